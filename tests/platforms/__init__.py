"""What only some systems have, taken away or put in by doubles: nothing here was tried on such a system."""
