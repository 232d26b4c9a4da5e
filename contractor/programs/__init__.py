"""Other programs: the tokens they come with, what they are answered, what they are told."""
