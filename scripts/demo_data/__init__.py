"""Makes the folders under `demo_orders/`: invented works, invented ware, invented names."""
