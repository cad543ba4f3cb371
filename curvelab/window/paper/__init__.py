"""The papers of a lot: what they are about, how labels lie on their sheets, and writing them."""
