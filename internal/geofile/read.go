package geofile

import (
	"bufio"
	"encoding/json"
	"errors"
	"fmt"
	"io"
)

// ReadGeoJSON reads a feature collection of polygons and multipolygons, one
// feature at a time. A byte-order mark is skipped, heights are dropped, members
// the format does not know are passed over. A feature's own "id" becomes the
// property "id" unless there is one.
//
// The error is a *Report if some features cannot be used, a *LimitError if the
// file is over a limit, or wraps ErrNotGeoJSON or ErrCRS.
func ReadGeoJSON(r io.Reader, lim Limits) (Layer, error) {
	return readGeoJSON(r, lim, Options{})
}

func readGeoJSON(r io.Reader, lim Limits, opt Options) (Layer, error) {
	in := bufio.NewReader(&bounded{r: r, left: lim.Bytes, most: lim.Bytes})
	if err := skipMark(in); err != nil {
		return Layer{}, fmt.Errorf("read GeoJSON: %w", err)
	}
	c := &collection{dec: json.NewDecoder(in), builder: newBuilder(lim, opt)}
	c.layer.SRID = wgs84
	err := c.read()
	if err == nil {
		err = c.done()
	}
	if err != nil {
		return Layer{}, fmt.Errorf("read GeoJSON: %w", err)
	}
	return c.layer, nil
}

// skipMark skips a UTF-8 byte-order mark and refuses what is plainly no JSON
// text in UTF-8.
func skipMark(in *bufio.Reader) error {
	head, err := in.Peek(3)
	if err != nil && !errors.Is(err, io.EOF) {
		return err
	}
	switch {
	case len(head) == 0:
		return fmt.Errorf("%w: the file is empty", ErrNotGeoJSON)
	case string(head) == "\xef\xbb\xbf":
		_, err := in.Discard(3)
		return err
	case head[0] == 0xff || head[0] == 0xfe:
		return fmt.Errorf("%w: the file is in UTF-16; save it as UTF-8", ErrNotGeoJSON)
	case string(head[:min(2, len(head))]) == "PK" || head[0] == 0x1f:
		return fmt.Errorf("%w: the file is compressed; unpack it first", ErrNotGeoJSON)
	}
	return nil
}

// collection is a feature collection being read.
type collection struct {
	*builder
	dec *json.Decoder

	typed, listed bool // members "type" and "features" met
}

func (c *collection) read() error {
	if err := c.open('{'); err != nil {
		return err
	}
	for c.dec.More() {
		name, err := c.dec.Token()
		if err != nil {
			return c.broken(err)
		}
		if err := c.member(name); err != nil {
			return err
		}
	}
	if _, err := c.dec.Token(); err != nil {
		return c.broken(err)
	}
	if _, err := c.dec.Token(); !errors.Is(err, io.EOF) {
		if err == nil {
			err = errors.New("something follows the end of the collection")
		}
		return c.broken(err)
	}
	if !c.typed || !c.listed {
		return fmt.Errorf("%w: a FeatureCollection with features is needed", ErrNotGeoJSON)
	}
	return nil
}

// member reads one member of the collection.
func (c *collection) member(name json.Token) error {
	switch name {
	case "type":
		var kind string
		if err := c.dec.Decode(&kind); err != nil {
			return c.broken(err)
		}
		if kind != "FeatureCollection" {
			return fmt.Errorf("%w: it is a %.40q, a FeatureCollection is needed", ErrNotGeoJSON, kind)
		}
		c.typed = true
		return nil
	case "crs":
		var raw json.RawMessage
		if err := c.dec.Decode(&raw); err != nil {
			return c.broken(err)
		}
		srid, err := readCRS(raw)
		c.layer.SRID = srid
		return err
	case "features":
		if c.listed {
			return fmt.Errorf("%w: it has two lists of features", ErrNotGeoJSON)
		}
		c.listed = true
		return c.features()
	default:
		var other json.RawMessage
		if err := c.dec.Decode(&other); err != nil {
			return c.broken(err)
		}
		return nil
	}
}

func (c *collection) features() error {
	if err := c.open('['); err != nil {
		return err
	}
	for c.dec.More() {
		if err := c.next(); err != nil {
			return err
		}
		if err := c.feature(); err != nil {
			return err
		}
	}
	if _, err := c.dec.Token(); err != nil {
		return c.broken(err)
	}
	return nil
}

// rawFeature is a feature as the file has it.
type rawFeature struct {
	Type       string
	ID         json.RawMessage
	Properties map[string]json.RawMessage
	Geometry   *rawGeometry
}

type rawGeometry struct {
	Type        string
	Coordinates json.RawMessage
}

// feature reads a feature. What is wrong with it alone goes to the report, so
// that one look at it mends them all.
func (c *collection) feature() error {
	var raw rawFeature
	err := c.dec.Decode(&raw)
	var mistyped *json.UnmarshalTypeError
	if errors.As(err, &mistyped) || err == nil && raw.Type != "Feature" {
		c.problem(BadFeature, "")
		return nil
	}
	if err != nil {
		return c.broken(err)
	}
	if raw.Geometry == nil {
		c.problem(NoGeometry, "")
		return nil
	}
	shape, err := readGeometry(raw.Geometry, &c.left)
	switch {
	case errors.Is(err, errPoints):
		return c.tooManyPoints()
	case errors.Is(err, errPolygon):
		c.problem(NotPolygon, fmt.Sprintf("%.40q", raw.Geometry.Type))
	case err != nil:
		c.problem(BadPosition, "")
	default:
		return c.add(properties(raw), shape)
	}
	return nil
}

// properties turns the table row into text.
func properties(raw rawFeature) map[string]string {
	out := make(map[string]string, len(raw.Properties)+1)
	for name, value := range raw.Properties {
		if text, ok := plain(value); ok {
			out[name] = text
		}
	}
	if _, has := out["id"]; !has {
		if text, ok := plain(raw.ID); ok {
			out["id"] = text
		}
	}
	return out
}

// plain is a JSON value as text; lists and objects have none.
func plain(value json.RawMessage) (text string, ok bool) {
	if len(value) == 0 {
		return "", false
	}
	switch value[0] {
	case '"':
		err := json.Unmarshal(value, &text)
		return text, err == nil
	case '[', '{':
		return "", false
	case 'n':
		return "", true
	default:
		return string(value), true
	}
}

// open reads one opening bracket.
func (c *collection) open(want json.Delim) error {
	got, err := c.dec.Token()
	if err != nil {
		return c.broken(err)
	}
	if got != want {
		return c.broken(fmt.Errorf("%q expected", want.String()))
	}
	return nil
}

// broken tells where a file stops making sense.
func (c *collection) broken(err error) error {
	var over *LimitError
	switch {
	case errors.As(err, &over):
		return over
	case errors.Is(err, io.EOF), errors.Is(err, io.ErrUnexpectedEOF):
		return fmt.Errorf("%w: it ends too early", ErrNotGeoJSON)
	default:
		return fmt.Errorf("%w: near byte %d: %w", ErrNotGeoJSON, c.dec.InputOffset(), err)
	}
}

// bounded reads up to a limit and then fails, unlike io.LimitReader, which
// would make a long file look like a short one.
type bounded struct {
	r    io.Reader
	left int64
	most int64
}

func (b *bounded) Read(p []byte) (int, error) {
	if int64(len(p)) > b.left+1 {
		p = p[:b.left+1]
	}
	n, err := b.r.Read(p)
	b.left -= int64(n)
	if b.left < 0 {
		return 0, &LimitError{What: "bytes", Most: b.most}
	}
	return n, err
}
