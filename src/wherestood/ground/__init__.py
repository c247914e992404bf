"""Go between picture and map: what a camera at a place would show of the terrain."""
