"""Raw force traces as readings, and the loops that they make."""
