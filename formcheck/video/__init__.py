"""From a clip file to upright pictures with their times and back: reading, damage, sound, drawing, encoding."""
