package calc

// Methods is the table of methods, in the order they are listed to people. A new method is one file and one row here.
func Methods() []Method {
	return []Method{
		contactClearance(),
		runout(),
		endFloat(),
		shimStack(),
		boreMap(),
		ringGap(),
		thread(),
		boltPreload(),
		boltAngle(),
		boltTorque(),
		boltHeat(),
		pistonPosition(),
		tdcStop(),
		tdcFit(),
		camTiming(),
		camEvents(),
		chainSlack(),
		deckHeight(),
		rodWeigh(),
		rockerGeometry(),
		camCorrection(),
		keyOffset(),
		valveLash(),
		lashPositions(),
	}
}
