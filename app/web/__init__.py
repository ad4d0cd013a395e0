"""The pages in the browser."""
