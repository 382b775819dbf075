"""The pages, one file for each room of the board."""
