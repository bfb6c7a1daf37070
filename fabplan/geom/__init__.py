"""Arrays in, arrays or indices out: plane geometry, poses, prisms. The only caller of shapely and scipy."""
