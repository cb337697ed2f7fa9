"""discscan: from photographs of used discs to play, resurface or pass."""
