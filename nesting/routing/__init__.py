"""Cut order and mark order."""
