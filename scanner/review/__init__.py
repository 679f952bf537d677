"""The second look: what the reader doubts, put before a person one by one, in the browser or in the terminal."""
