"""The room as it is: the scene file, what it says, and what is wrong with it."""
