// Package limb finds the edge of the Sun's disc in a picture.
package limb
