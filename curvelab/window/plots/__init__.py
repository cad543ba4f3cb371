"""The plots; the only place of the window that knows the plotting library."""
