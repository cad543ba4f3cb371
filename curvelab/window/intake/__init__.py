"""Taking files in: the preview, the bench in force, the watched folder."""
