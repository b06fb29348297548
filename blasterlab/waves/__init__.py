"""Second opinions on the shot: waves in the gas, waves in the spring, and how far the shot model is off."""
