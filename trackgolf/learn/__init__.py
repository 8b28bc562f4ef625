"""What many rounds say together: clubs, distances, causes."""
