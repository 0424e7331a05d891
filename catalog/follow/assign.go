package follow

import "math"

// forbidden is the cost of a pair that must not be.
var forbidden = math.Inf(1)

// assign gives each row a column of its own so that the sum of the costs is
// least, and returns the column of each row, −1 for a row that has none. There
// must be at least as many columns as rows; forbidden pairs are never chosen.
//
// It is the Hungarian method with shortest augmenting paths, the core of Jonker &
// Volgenant 1987 (Computing 38, 325): rows enter one by one, each along the
// cheapest path of exchanges, and dual prices keep reduced costs non-negative.
// Time grows as rows² · columns.
func assign(cost [][]float64) []int {
	rows := len(cost)
	if rows == 0 {
		return nil
	}
	cols := len(cost[0])
	rowPrice, colPrice := make([]float64, rows), make([]float64, cols)
	rowOf := filled(cols, -1) // the row that holds a column
	colOf := filled(rows, -1)
	dist, from, done := make([]float64, cols), make([]int, cols), make([]bool, cols)

	for start := range rows {
		for j := range cols {
			dist[j], from[j], done[j] = cost[start][j]-rowPrice[start]-colPrice[j], start, false
		}
		free, reach := -1, 0.0
		for {
			near := -1
			for j := range cols {
				if !done[j] && !math.IsInf(dist[j], 1) && (near < 0 || dist[j] < dist[near]) {
					near = j
				}
			}
			if near < 0 {
				break // no path to a free column: the row stays alone
			}
			done[near], reach = true, dist[near]
			if rowOf[near] < 0 {
				free = near
				break
			}
			row := rowOf[near]
			for j := range cols {
				if step := reach + cost[row][j] - rowPrice[row] - colPrice[j]; !done[j] && step < dist[j] {
					dist[j], from[j] = step, row
				}
			}
		}
		if free < 0 {
			continue
		}
		for j := range cols {
			if done[j] && j != free {
				colPrice[j] += dist[j] - reach
				rowPrice[rowOf[j]] += reach - dist[j]
			}
		}
		rowPrice[start] += reach
		for j := free; ; {
			row := from[j]
			rowOf[j] = row
			colOf[row], j = j, colOf[row]
			if row == start {
				break
			}
		}
	}
	return colOf
}

func filled(n, value int) []int {
	s := make([]int, n)
	for i := range s {
		s[i] = value
	}
	return s
}
