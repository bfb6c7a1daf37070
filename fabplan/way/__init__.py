"""The roads: each a short function that reads like the picture in DEVELOPERS.md."""
