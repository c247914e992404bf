"""Read scans of plates, their formats, and the skyline on them."""
