"""The screens: pure views (no Kivy) and the Kivy widgets that show them. A client of the engine process."""
