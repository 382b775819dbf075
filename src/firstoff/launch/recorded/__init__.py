"""What goes into the records, comes back from them, and is decided and signed on them."""
