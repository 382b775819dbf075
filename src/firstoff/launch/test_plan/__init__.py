"""How many first-offs, which readings on which gauge, and the sheet for them."""
