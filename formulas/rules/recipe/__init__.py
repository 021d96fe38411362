"""A recipe from elsewhere, read line by line. What can't be read for certain is asked, never guessed."""
