when_hours_move: list = []
