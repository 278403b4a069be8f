"""Planning the next pressing of a blank from the shop's log, in words, as a map, and pressing again."""
