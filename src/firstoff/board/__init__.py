"""The launch board: what the verbs find, on pages that a launch team uses on the plant's own network, offline."""
