"""Serve pieces of a scan of any size, by the IIIF Image API 3.0, level 2."""
