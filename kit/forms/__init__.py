"""Page designs: each turns a form design of `templates/forms` into pages in millimetres."""
