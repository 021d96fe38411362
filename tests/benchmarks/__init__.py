"""Measurements as ratios, on books of any size made by the generator here."""
