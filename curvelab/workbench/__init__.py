"""Use cases shared by the command line and the window: plain functions with progress and stop."""
