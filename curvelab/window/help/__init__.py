"""The pages of help: read from files, searched, shown in a window of their own."""
