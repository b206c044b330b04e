package world

import "math"

// The state's plane touches the ellipsoid here, in the middle of the North
// Atlantic, where no map of real places can be mistaken for it.
const (
	originLat = 41.0
	originLon = -40.0

	wgs84A  = 6378137.0
	wgs84E2 = 0.00669437999014
)

// toLonLat takes a point of the plane to degrees. The plane is the sinusoidal
// projection of the WGS 84 ellipsoid about the origin: y is the distance along
// the meridian, x the distance along the parallel. Areas are therefore true to
// the ellipsoid, and a six-mile township measures six miles from east to west.
//
// Degrees are rounded to seven decimals (about a centimeter), so that the same
// point is the same number on every processor.
func toLonLat(p pt) LonLat {
	center := at{columns / 2, rows / 2}.pt()
	x := float64(p.x-center.x) / 1000
	y := float64(p.y-center.y) / 1000
	lat0 := originLat * math.Pi / 180
	lat := lat0 + y/meridianRadius(lat0)
	// The radius at the middle of the arc serves the whole arc.
	lat = lat0 + y/meridianRadius((lat0+lat)/2)
	s := math.Sin(lat)
	prime := wgs84A / math.Sqrt(1-wgs84E2*s*s)
	lon := originLon + x/(prime*math.Cos(lat))*180/math.Pi
	return LonLat{round7(lon), round7(lat * 180 / math.Pi)}
}

func meridianRadius(lat float64) float64 {
	s := math.Sin(lat)
	w := 1 - wgs84E2*s*s
	return wgs84A * (1 - wgs84E2) / (w * math.Sqrt(w))
}

func round7(v float64) float64 { return math.Round(v*1e7) / 1e7 }

func lonLats(r []pt) []LonLat {
	out := make([]LonLat, len(r), len(r)+1)
	for i, p := range r {
		out[i] = toLonLat(p)
	}
	return out
}

// closed turns an open ring into one whose first position ends it too.
func closed(r []pt) Ring {
	out := lonLats(r)
	return append(out, out[0])
}
