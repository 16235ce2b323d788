package calc

// inchForms gives the profile of each series of inch threads.
func inchForms() map[string]threadForm {
	return map[string]threadForm{
		"UN": unifiedForm(), "UNC": unifiedForm(), "UNF": unifiedForm(), "UNEF": unifiedForm(), "UNS": unifiedForm(),
		"BSW": whitworthForm(), "BSF": whitworthForm(),
		"BSC": cycleForm(), "CEI": cycleForm(),
	}
}

// seriesThreads is how many threads an inch a size has in a series that has one only. Cycle threads come with 26 and
// with 20 in the larger sizes, so they are not held to a table. ASME B1.1, BS 84 (from memory).
func seriesThreads() map[string]map[string]float64 {
	return map[string]map[string]float64{
		"UNC": {"1/4": 20, "5/16": 18, "3/8": 16, "7/16": 14, "1/2": 13, "9/16": 12, "5/8": 11, "3/4": 10, "7/8": 9, "1": 8, "#4": 40, "#6": 32, "#8": 32, "#10": 24, "#12": 24},
		"UNF": {"1/4": 28, "5/16": 24, "3/8": 24, "7/16": 20, "1/2": 20, "9/16": 18, "5/8": 18, "3/4": 16, "7/8": 14, "1": 12, "#4": 48, "#6": 40, "#8": 36, "#10": 32, "#12": 28},
		"BSW": {"1/8": 40, "3/16": 24, "1/4": 20, "5/16": 18, "3/8": 16, "7/16": 14, "1/2": 12, "9/16": 12, "5/8": 11, "3/4": 10, "7/8": 9, "1": 8},
		"BSF": {"3/16": 32, "7/32": 28, "1/4": 26, "5/16": 22, "3/8": 20, "7/16": 18, "1/2": 16, "9/16": 16, "5/8": 14, "3/4": 12, "7/8": 11, "1": 10},
	}
}

// coarsePitches is the coarse pitch of each metric diameter, mm. ISO 261 (from memory).
func coarsePitches() map[float64]float64 {
	return map[float64]float64{
		2: 0.4, 2.5: 0.45, 3: 0.5, 4: 0.7, 5: 0.8, 6: 1, 8: 1.25, 10: 1.5, 12: 1.75, 14: 2, 16: 2, 18: 2.5, 20: 2.5, 22: 2.5, 24: 3,
	}
}

// baDrills is the customary drill of BA sizes, mm (from memory).
func baDrills() map[string]float64 {
	return map[string]float64{"0 BA": 5.1, "2 BA": 4.0, "4 BA": 3.0, "6 BA": 2.3}
}

// tapDrills is the customary drill in inches for unified threads: number, letter and fraction drills (ASME B94.11M).
// The first five as the trade's tables print them, the others from memory.
func tapDrills() map[string]float64 {
	return map[string]float64{
		"1/4-20": 0.2010, "1/4-28": 0.2130, "5/16-18": 0.2570, "5/16-24": 17.0 / 64, "3/8-24": 0.3320,
		"3/8-16": 5.0 / 16, "7/16-14": 0.3680, "7/16-20": 25.0 / 64, "1/2-13": 27.0 / 64, "1/2-20": 29.0 / 64,
	}
}
