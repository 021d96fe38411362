"""What the demo's workshop buys and makes: invented suppliers and formulas of our own."""
