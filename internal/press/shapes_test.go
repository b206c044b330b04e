package press_test

import (
	"bytes"
	"compress/zlib"
	"encoding/xml"
	"fmt"
	"io"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// shape is what a painter drew, as its own format says it.
type shape struct {
	fill, stroke string
	width        int
	dash         string
	points       string // each part "x,y x,y …", closed ones with z, parts after /
}

// svgShapes reads the paths of an SVG in the order they are painted.
func svgShapes(t *testing.T, s string) []shape {
	t.Helper()
	d := xml.NewDecoder(strings.NewReader(s))
	var out []shape
	outlines := map[string]string{}
	var pens []map[string]string // of the elements around
	for {
		tok, err := d.Token()
		if err == io.EOF {
			return out
		}
		require.NoError(t, err)
		switch e := tok.(type) {
		case xml.StartElement:
			pen := map[string]string{}
			if n := len(pens); n > 0 {
				for k, v := range pens[n-1] {
					pen[k] = v
				}
			}
			id, data := "", ""
			for _, a := range e.Attr {
				switch a.Name.Local {
				case "id":
					id = a.Value
				case "d":
					data = svgPoints(t, a.Value)
				case "href":
					if e.Name.Local == "use" {
						data = outlines[strings.TrimPrefix(a.Value, "#")]
					}
				case "fill", "stroke", "stroke-width", "stroke-dasharray":
					pen[a.Name.Local] = a.Value
				}
			}
			pens = append(pens, pen)
			if e.Name.Local == "path" && id != "" {
				outlines[id] = data
			}
			if e.Name.Local == "path" || e.Name.Local == "use" {
				w, _ := strconv.Atoi(pen["stroke-width"])
				sh := shape{fill: pen["fill"], stroke: pen["stroke"], width: w, dash: pen["stroke-dasharray"], points: data}
				if sh.fill == "none" {
					sh.fill = ""
				}
				if sh.stroke == "" {
					sh.width, sh.dash = 0, ""
				}
				if sh.fill != "" || sh.stroke != "" {
					out = append(out, sh)
				}
			}
		case xml.EndElement:
			pens = pens[:len(pens)-1]
		}
	}
}

var svgToken = regexp.MustCompile(`[a-zA-Z]|-?[0-9]+`)

// svgPoints makes the moves of a path absolute.
func svgPoints(t *testing.T, d string) string {
	t.Helper()
	tokens := svgToken.FindAllString(d, -1)
	var b strings.Builder
	x, y, op := 0, 0, ""
	for i := 0; i < len(tokens); {
		if c := tokens[i][0]; c >= 'A' && c != '-' {
			op = tokens[i]
			i++
			if op == "z" {
				b.WriteString(" z")
			}
			continue
		}
		n := func(k int) int {
			v, err := strconv.Atoi(tokens[i+k])
			require.NoError(t, err)
			return v
		}
		switch op {
		case "M":
			x, y = n(0), n(1)
			fmt.Fprintf(&b, "/%d,%d", x, y)
			i += 2
			continue
		case "l":
			x, y = x+n(0), y+n(1)
			i += 2
		case "h":
			x += n(0)
			i++
		default:
			t.Fatalf("operator %q", op)
		}
		fmt.Fprintf(&b, " %d,%d", x, y)
	}
	return b.String()
}

// pdfPages returns the content of each page, unpacked.
func pdfPages(t *testing.T, pdf []byte) []string {
	t.Helper()
	var out []string
	for _, part := range bytes.Split(pdf, []byte("stream\n"))[1:] {
		z, err := zlib.NewReader(bytes.NewReader(part))
		if err != nil {
			continue // the tail of a stream, or not packed
		}
		content, err := io.ReadAll(z)
		require.NoError(t, err)
		if bytes.Contains(content, []byte(" cm\n")) {
			out = append(out, string(content))
		}
	}
	return out
}

// pdfShapes runs the path operators of a page. Only whole numbers are taken: the
// outlines of letters, which leave paper free around a name, have decimals.
func pdfShapes(t *testing.T, content string) []shape {
	t.Helper()
	var out []shape
	var now shape
	var points strings.Builder
	whole := true
	number := func(s string) string {
		if strings.Contains(s, ".") {
			whole = false
		}
		return s
	}
	for _, line := range strings.Split(content, "\n") {
		f := strings.Fields(line)
		if len(f) == 0 {
			continue
		}
		switch op := f[len(f)-1]; op {
		case "q":
			now = shape{}
		case "rg":
			now.fill = pdfHex(t, f)
		case "RG":
			now.stroke = pdfHex(t, f)
		case "w":
			now.width, _ = strconv.Atoi(f[0])
		case "d":
			now.dash = strings.Trim(strings.Split(line, "]")[0], "[ ")
		case "m":
			points.WriteString("/" + number(f[0]) + "," + number(f[1]))
		case "l":
			points.WriteString(" " + number(f[0]) + "," + number(f[1]))
		case "h":
			points.WriteString(" z")
		case "f*", "B*", "S":
			s := now
			s.points = points.String()
			if op == "f*" {
				s.stroke, s.width, s.dash = "", 0, ""
			}
			if op == "S" {
				s.fill = ""
			}
			if whole {
				out = append(out, s)
			}
			points.Reset()
			whole = true
		}
	}
	return out
}

func pdfHex(t *testing.T, f []string) string {
	t.Helper()
	s := "#"
	for _, v := range f[len(f)-4 : len(f)-1] {
		x, err := strconv.ParseFloat(v, 64)
		require.NoError(t, err)
		s += fmt.Sprintf("%02x", int(x*255+0.5))
	}
	return s
}
