"""Stand on the spot again: field sheet, pairs that line up, modern lenses."""
