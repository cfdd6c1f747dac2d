"""The chamber on a message broker: state as Homie 5 topics, events from the outbox, requests from afar."""
