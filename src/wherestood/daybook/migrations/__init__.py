"""Bring daybooks of earlier versions up to date."""
