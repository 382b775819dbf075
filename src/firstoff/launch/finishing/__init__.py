"""The finish through the plating line: windows to the crane, what the line uses up, takt."""
