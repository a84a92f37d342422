"""Values printed outside this project, and the program that recomputes them."""
