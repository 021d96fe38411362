"""Each question of the review on its own."""
