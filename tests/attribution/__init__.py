"""Whose sheet it is, tried until it goes wrong: whole pages, code corners, and the texts of the codes themselves."""
