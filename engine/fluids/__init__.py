"""What flows? From a study's word for a fluid to a fluid that the physics takes."""
