"""What has occurred aboard: decided once, passed on to automations and to the crew."""
