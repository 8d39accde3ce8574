"""An invented cook for `cookstop demonstrate`, and when it should have been stopped."""
