"""Cut list, bars, rivets, bolts: what to buy."""
