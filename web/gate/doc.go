// Package gate decides who comes in: which names the page answers to, who has shown the password, and how many wrong
// ones are taken from where. A QR code lets one device in, once.
package gate
