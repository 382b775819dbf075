"""The ride of one wheel: road, two-mass model, comfort and road holding, and the damper curves compared by them."""
