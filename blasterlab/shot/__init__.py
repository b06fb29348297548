"""Interior ballistics: the shot, its closed-form limits and its references."""
