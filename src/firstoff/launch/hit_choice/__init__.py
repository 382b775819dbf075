"""The reverse question of a hit: what thickness, grade, depth or bracket its limits need."""
