"""Following the running lots: control charts of the readings, and the parts that a slipping lot went into."""
