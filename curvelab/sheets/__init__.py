"""What a sheet, a table of results and a picture say: pure content, nothing painted."""
