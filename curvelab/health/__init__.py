"""What is wrong with a tube or its bench: one rule a module, and the verdict that follows."""
