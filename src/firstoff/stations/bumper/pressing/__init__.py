"""From the coil to the checking fixture: the blank, the dies, the presses."""
