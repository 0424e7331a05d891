package report

import (
	"bufio"
	"encoding/xml"
	"fmt"
	"io"
	"limbwatch/catalog/field"
	"limbwatch/catalog/measure"
	"strings"
	"unicode/utf8"
)

// The elements of a VOTable that are written (IVOA Recommendation 1.4, 2019).

type voTable struct {
	XMLName   xml.Name   `xml:"VOTABLE"`
	Version   string     `xml:"version,attr"`
	Namespace string     `xml:"xmlns,attr"`
	Resource  voResource `xml:"RESOURCE"`
}

type voResource struct {
	XMLName     xml.Name     `xml:"RESOURCE"`
	Name        string       `xml:"name,attr"`
	Description string       `xml:"DESCRIPTION"`
	Infos       []voInfo     `xml:"INFO"`
	TimeSystem  voTimeSystem `xml:"TIMESYS"`
	Table       voMarks      `xml:"TABLE"`
}

type voInfo struct {
	XMLName xml.Name `xml:"INFO"`
	Name    string   `xml:"name,attr"`
	Value   string   `xml:"value,attr"`
}

type voTimeSystem struct {
	XMLName     xml.Name `xml:"TIMESYS"`
	ID          string   `xml:"ID,attr"`
	TimeScale   string   `xml:"timescale,attr"`
	RefPosition string   `xml:"refposition,attr"`
}

type voMarks struct {
	XMLName xml.Name  `xml:"TABLE"`
	Name    string    `xml:"name,attr"`
	Rows    int       `xml:"nrows,attr"`
	Fields  []voField `xml:"FIELD"`
	Data    struct {
		Table struct {
			Rows []voRow `xml:"TR"`
		} `xml:"TABLEDATA"`
	} `xml:"DATA"`
}

type voField struct {
	XMLName     xml.Name `xml:"FIELD"`
	Name        string   `xml:"name,attr"`
	Datatype    string   `xml:"datatype,attr"`
	ArraySize   string   `xml:"arraysize,attr,omitempty"`
	Unit        string   `xml:"unit,attr,omitempty"`
	UCD         string   `xml:"ucd,attr,omitempty"`
	XType       string   `xml:"xtype,attr,omitempty"`
	Ref         string   `xml:"ref,attr,omitempty"`
	Description string   `xml:"DESCRIPTION"`
	Values      *voNull  `xml:"VALUES"`
}

type voNull struct {
	XMLName xml.Name `xml:"VALUES"`
	Null    string   `xml:"null,attr"`
}

type voRow struct {
	XMLName xml.Name `xml:"TR"`
	Cells   []string `xml:"TD"`
}

// noCount stands in a column of counts where none is known: VOTable has no empty
// whole number.
const noCount = "-1"

// WriteVOTable writes marks as a VOTable 1.4 with units and UCDs.
func WriteVOTable(w io.Writer, entries []measure.Marked, about Origin) error {
	t := voTable{Version: "1.4", Namespace: "http://www.ivoa.net/xml/VOTable/v1.3", Resource: voResource{
		Name: "marks", Description: legalXML(about.Title),
		TimeSystem: voTimeSystem{ID: "utc", TimeScale: "UTC", RefPosition: "TOPOCENTER"},
		Table:      voMarks{Name: "marks", Rows: len(entries)},
	}}
	for _, line := range about.lines() {
		t.Resource.Infos = append(t.Resource.Infos, voInfo{Name: line.Label, Value: legalXML(line.Text)})
	}
	for _, c := range markColumns {
		t.Resource.Table.Fields = append(t.Resource.Table.Fields, c.voField())
	}
	rows := make([]voRow, len(entries))
	for i := range entries {
		rows[i].Cells = make([]string, len(markColumns))
		for j, c := range markColumns {
			rows[i].Cells[j] = c.voCell(&entries[i])
		}
	}
	t.Resource.Table.Data.Table.Rows = rows
	out := bufio.NewWriterSize(w, 1<<16)
	fmt.Fprint(out, xml.Header)
	encoder := xml.NewEncoder(out)
	encoder.Indent("", " ")
	if err := encoder.Encode(t); err != nil {
		return err
	}
	fmt.Fprintln(out)
	return out.Flush()
}

func (c markColumn) voField() voField {
	f := voField{Name: c.Name, Unit: c.Unit, UCD: c.UCD, Description: c.About}
	switch c.Kind {
	case field.Number:
		f.Datatype = "double"
	case field.Whole:
		f.Datatype, f.Values = "long", &voNull{Null: noCount}
	case field.Yes:
		f.Datatype = "boolean"
	default:
		f.Datatype, f.ArraySize = "unicodeChar", "*"
	}
	if c.Name == "utc" {
		f.Datatype, f.XType, f.Ref = "char", "timestamp", "utc"
	}
	return f
}

func (c markColumn) voCell(m *measure.Marked) string {
	text := c.cell(m)
	switch {
	case c.Kind == field.Number && text == "":
		return "NaN"
	case c.Kind == field.Whole && text == "":
		return noCount
	}
	return legalXML(text)
}

// legalXML leaves out what XML 1.0 cannot hold.
func legalXML(text string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case r == '\t' || r == '\n' || r == '\r':
			return ' '
		case r < 0x20 || r == utf8.RuneError || r == 0xFFFE || r == 0xFFFF:
			return -1
		}
		return r
	}, text)
}
