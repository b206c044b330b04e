package past

import (
	"io"

	"sixmile/internal/tabular"
)

// WriteTemplate writes an empty file to fill in: the headers, by which the file
// is read again.
func WriteTemplate(w io.Writer) error {
	row := []string{"Fall", "County", "Township", "Longitude", "Latitude", "Density", "Unit", "Level", "Cyst seen", "Method", "Farm"}
	return tabular.WriteRows(w, [][]string{row})
}

// WriteDictionary writes what each column may hold; about gives the name of a
// field and what is to be said of it.
func WriteDictionary(w io.Writer, head [2]string, about func(f tabular.Field) (name, text string)) error {
	rows := [][]string{head[:]}
	for _, f := range Fields() {
		name, text := about(f)
		rows = append(rows, []string{name, text})
	}
	return tabular.WriteRows(w, rows)
}
