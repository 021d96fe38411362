"""What the demo's workshop receives, makes and sends out: an invented calendar."""
