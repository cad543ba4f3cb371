"""What the handbooks say of a type: its figures, its family of curves, and how a tube compares."""
