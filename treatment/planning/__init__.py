"""Scene and panels -> what the room does, and which panels to hang."""
