package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"runtime"
	"text/tabwriter"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"
)

// A pageRow is what opening a page of the desk costs, with nothing of it in the browser's memory.
type pageRow struct {
	page    string
	widthPx int64
	firstMS float64 // until something is to be seen
	kB      float64 // that came, without videos
	shift   float64 // how far what was shown moved by itself; 0.1 is a good page's most (common practice, no source)
}

// settled says what a page cost once nothing more happens to it.
const settled = `new Promise((done) => {
	let shift = 0;
	new PerformanceObserver((list) => { for (const e of list.getEntries()) if (!e.hadRecentInput) shift += e.value; })
		.observe({ type: "layout-shift", buffered: true });
	setTimeout(() => {
		const came = [...performance.getEntriesByType("navigation"), ...performance.getEntriesByType("resource")]
			.filter((e) => e.initiatorType !== "video");
		done([performance.getEntriesByName("first-contentful-paint")[0]?.startTime || 0,
			came.reduce((sum, e) => sum + e.transferSize, 0) / 1000, shift]);
	}, 2000);
})`

const pagesFile = "scripts/bench-pages.txt"

// pages measures what opening each page costs, and keeps the table.
func pages(ctx context.Context) (err error) {
	folder, err := os.MkdirTemp("", "holdfast-bench-")
	if err != nil {
		return fmt.Errorf("making a temporary folder: %w", err)
	}
	defer os.RemoveAll(folder)
	base, tab, stop, err := look(ctx, folder, filepath.Join(folder, "data"))
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, stop()) }()
	rows, err := measurePages(ctx, tab, base)
	if err != nil {
		return err
	}
	var table bytes.Buffer
	out := io.MultiWriter(os.Stdout, &table)
	fmt.Fprintf(out, "Opening the pages of the example athlete, nothing of them in the browser's memory; %d cores\n\n",
		runtime.NumCPU())
	t := tabwriter.NewWriter(out, 0, 0, 3, ' ', tabwriter.AlignRight)
	fmt.Fprintf(t, "\tpixels wide\tfirst picture, ms\tkB without videos\tlayout shift\t\n")
	for _, p := range rows {
		fmt.Fprintf(t, "%s\t%d\t%.0f\t%.0f\t%.3f\t\n", p.page, p.widthPx, p.firstMS, p.kB, p.shift)
	}
	if err := t.Flush(); err != nil {
		return err
	}
	return keep(pagesFile, table.Bytes())
}

// measurePages opens each page of the desk, with the example athlete in it, on a screen and on a phone.
func measurePages(ctx, tab context.Context, base string) ([]pageRow, error) {
	var example struct {
		Clips []struct{ ID string } `json:"clips"`
	}
	if err := ask(ctx, base+"/api/example", nil, &example); err != nil {
		return nil, err
	}
	var ids []string
	for _, c := range example.Clips {
		ids = append(ids, c.ID)
	}
	var compared struct{ ID string }
	if err := ask(ctx, base+"/api/comparisons", map[string]any{"clips": ids}, &compared); err != nil {
		return nil, err
	}
	var about struct {
		Athlete struct{ ID string } `json:"athlete"`
	}
	if err := fetch(ctx, http.MethodGet, base+"/api/clips/"+ids[0], nil, &about); err != nil {
		return nil, err
	}
	if _, err := chromedp.Call(tab, network.SetCacheDisabled,
		network.SetCacheDisabledParams{CacheDisabled: true}); err != nil {
		return nil, fmt.Errorf("preparing the browser: %w", err)
	}
	var rows []pageRow
	for _, widthPx := range []int64{1280, 390} {
		if _, err := chromedp.Call(tab, emulation.SetDeviceMetricsOverride,
			emulation.SetDeviceMetricsOverrideParams{Width: widthPx, Height: 844, DeviceScaleFactor: 1}); err != nil {
			return nil, fmt.Errorf("preparing the browser: %w", err)
		}
		for _, p := range []struct{ name, path string }{
			{"first page", "/"}, {"athletes", "/athletes"}, {"athlete", "/athletes/" + about.Athlete.ID},
			{"clip", "/clips/" + ids[0]}, {"choosing clips", "/compare?athlete=" + about.Athlete.ID},
			{"comparison", "/comparisons/" + compared.ID}, {"about", "/about"},
		} {
			got, cancel := context.WithTimeout(tab, waitLimit)
			err := chromedp.Do(got, chromedp.Navigate("about:blank"), chromedp.Navigate(base+p.path))
			var figures []float64
			if err == nil {
				figures, err = chromedp.Run(got, chromedp.Evaluate[[]float64](settled, chromedp.EvalAwaitPromise))
			}
			cancel()
			if err != nil {
				return nil, fmt.Errorf("opening %s: %w", p.path, err)
			}
			rows = append(rows, pageRow{p.name, widthPx, figures[0], figures[1], figures[2]})
		}
	}
	return rows, nil
}

// ask sends JSON as the page does, and reads the answer.
func ask(ctx context.Context, url string, body, into any) error {
	return fetch(ctx, http.MethodPost, url, body, into)
}

func fetch(ctx context.Context, method, url string, body, into any) error {
	text, err := json.Marshal(body)
	if err != nil {
		return fmt.Errorf("asking the server: %w", err)
	}
	r, err := http.NewRequestWithContext(ctx, method, url, bytes.NewReader(text))
	if err != nil {
		return fmt.Errorf("asking the server: %w", err)
	}
	r.Header.Set("Content-Type", "application/json")
	r.Header.Set("X-Holdfast", "1")
	w, err := http.DefaultClient.Do(r)
	if err != nil {
		return fmt.Errorf("asking the server: %w", err)
	}
	defer w.Body.Close()
	if w.StatusCode >= http.StatusBadRequest {
		return fmt.Errorf("asking the server: %s answers %s", url, w.Status)
	}
	if err := json.NewDecoder(w.Body).Decode(into); err != nil {
		return fmt.Errorf("asking the server: %w", err)
	}
	return nil
}
