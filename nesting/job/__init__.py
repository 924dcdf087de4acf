"""The job document: blanks, artwork, stock, machine and orders, and how they are read."""
