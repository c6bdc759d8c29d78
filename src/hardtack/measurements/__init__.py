"""A laboratory's own files in, what was understood shown, fitted properties with their errors out."""
