package features

import (
	"bytes"
	"encoding/json"
)

// Raw is JSON that was made elsewhere; empty is null.
type Raw []byte

// MarshalJSON writes it as it is.
func (r Raw) MarshalJSON() ([]byte, error) {
	if len(r) == 0 {
		return []byte("null"), nil
	}
	return r, nil
}

// Property is a field of a feature: text, a number, true or false; nil is null.
type Property struct {
	Name  string
	Value any
}

// Properties are a feature's fields in their order.
type Properties []Property

// Get is the value of a field; nil where there is none.
func (p Properties) Get(name string) any {
	for _, f := range p {
		if f.Name == name {
			return f.Value
		}
	}
	return nil
}

// MarshalJSON writes an object in the order of the fields.
func (p Properties) MarshalJSON() ([]byte, error) {
	var b bytes.Buffer
	b.WriteByte('{')
	for i, f := range p {
		if i > 0 {
			b.WriteByte(',')
		}
		name, err := json.Marshal(f.Name)
		if err != nil {
			return nil, err
		}
		value, err := json.Marshal(f.Value)
		if err != nil {
			return nil, err
		}
		b.Write(name)
		b.WriteByte(':')
		b.Write(value)
	}
	b.WriteByte('}')
	return b.Bytes(), nil
}
