"""What is printed or exported."""
