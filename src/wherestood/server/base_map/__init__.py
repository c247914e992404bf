"""Fetch a base map that the person set, and lay it on a ground's own grid."""
