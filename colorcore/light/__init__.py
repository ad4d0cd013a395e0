"""References, uneven light, tone curve and camera colour: from linear light to CIELAB."""
