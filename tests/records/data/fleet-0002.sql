SET check_function_bodies = false;
CREATE FUNCTION public.fleet_let_go(most bigint, most_bytes bigint) RETURNS TABLE(reason text, number bigint, bytes bigint)
    LANGUAGE plpgsql SECURITY DEFINER
    SET search_path TO 'public', 'pg_temp'
    AS $$
#variable_conflict use_column
BEGIN
    IF NOT pg_try_advisory_xact_lock(1381254222) THEN
        RETURN;
    END IF;
    RETURN QUERY WITH placed AS (
        SELECT f.sha256, f.topic, f.reason, t.sha256 IS NOT NULL AS is_taken,
            row_number() OVER kept_first AS place, sum(octet_length(f.payload)) OVER kept_first AS so_far
        FROM fleet_refused AS f LEFT JOIN fleet_taken_up AS t ON (t.sha256, t.topic) = (f.sha256, f.topic)
        WINDOW kept_first AS (
            ORDER BY t.sha256 IS NOT NULL,
                f.reason NOT IN ('newer', 'other-key', 'unknown-bay', 'contradicted', 'unfit'),
                f.stored DESC, f.sha256, f.topic, f.reason
            ROWS UNBOUNDED PRECEDING
        )
    ), gone AS (
        DELETE FROM fleet_refused AS f USING placed AS p
        WHERE (f.sha256, f.topic, f.reason) = (p.sha256, p.topic, p.reason)
        AND (p.place > most OR p.so_far > most_bytes)
        RETURNING f.reason, octet_length(f.payload) AS bytes, p.is_taken
    ), counted AS (
        SELECT g.reason, count(*) AS number, sum(g.bytes)::bigint AS bytes FROM gone AS g
        WHERE NOT g.is_taken GROUP BY g.reason
    ), told AS (
        INSERT INTO fleet_refused_gone AS k (reason, number, bytes, latest)
        SELECT c.reason, c.number, c.bytes, now() FROM counted AS c
        ON CONFLICT (reason) DO UPDATE
        SET number = k.number + excluded.number, bytes = k.bytes + excluded.bytes, latest = excluded.latest
    )
    SELECT c.reason, c.number, c.bytes FROM counted AS c ORDER BY c.reason;
END $$;
CREATE FUNCTION public.fleet_make_month(wanted date) RETURNS void
    LANGUAGE plpgsql SECURITY DEFINER
    SET search_path TO 'public', 'pg_temp'
    AS $$
DECLARE
    parent text;
    part text;
    first date := date_trunc('month', wanted)::date;
BEGIN
    PERFORM pg_advisory_xact_lock(1381254221);
    FOREACH parent IN ARRAY ARRAY['fleet_results', 'fleet_checks'] LOOP
        part := parent || to_char(first, '_YYYY_MM');
        IF to_regclass(part) IS NULL THEN
            EXECUTE format('CREATE TABLE %I (LIKE %I INCLUDING DEFAULTS)', part, parent);
            IF parent = 'fleet_results' THEN
                EXECUTE format('ALTER TABLE %I ALTER COLUMN document SET STORAGE EXTERNAL', part);
            END IF;
            EXECUTE format('ALTER TABLE %I ATTACH PARTITION %I FOR VALUES FROM (%L) TO (%L)',
                parent, part, first, (first + interval '1 month')::date);
        END IF;
    END LOOP;
END $$;
CREATE FUNCTION public.fleet_withdraw(of_site text, of_bay text, of_inspection text, of_revision integer) RETURNS bytea
    LANGUAGE plpgsql SECURITY DEFINER
    SET search_path TO 'public', 'pg_temp'
    AS $$
DECLARE
    held fleet_revisions;
    gone bytea;
BEGIN
    SELECT * INTO held FROM fleet_revisions
    WHERE (site, bay, inspection, revision) = (of_site, of_bay, of_inspection, of_revision);
    IF held IS NULL OR NOT EXISTS (
        SELECT FROM fleet_chain AS c
        WHERE (c.site, c.bay, c.inspection, c.revision) = (of_site, of_bay, of_inspection, of_revision)
    ) OR EXISTS (
        SELECT FROM fleet_chain AS c
        WHERE (c.site, c.bay, c.inspection, c.revision) = (of_site, of_bay, of_inspection, of_revision)
        AND c.document_sha256 = held.sha256
    ) THEN
        RETURN NULL;
    END IF;
    DELETE FROM fleet_checks
    WHERE (site, bay, inspection, revision) = (of_site, of_bay, of_inspection, of_revision)
    AND month = held.month;
    DELETE FROM fleet_results
    WHERE (site, bay, inspection, revision) = (of_site, of_bay, of_inspection, of_revision)
    AND month = held.month RETURNING document INTO gone;
    DELETE FROM fleet_revisions
    WHERE (site, bay, inspection, revision) = (of_site, of_bay, of_inspection, of_revision);
    RETURN gone;
END $$;
CREATE TABLE public.fleet_asked (
    site text NOT NULL,
    bay text NOT NULL,
    asked timestamp with time zone DEFAULT now() NOT NULL,
    since text NOT NULL,
    why text NOT NULL
);
CREATE TABLE public.fleet_bay_keys (
    site text NOT NULL,
    bay text NOT NULL,
    key text NOT NULL,
    how text NOT NULL,
    stored timestamp with time zone DEFAULT now() NOT NULL
);
CREATE TABLE public.fleet_breaks (
    site text NOT NULL,
    bay text NOT NULL,
    chain text NOT NULL,
    place integer NOT NULL,
    what text NOT NULL,
    why text NOT NULL,
    inspection text,
    revision integer,
    stored timestamp with time zone DEFAULT now() NOT NULL
);
CREATE TABLE public.fleet_chain (
    site text NOT NULL,
    bay text NOT NULL,
    chain text NOT NULL,
    place integer NOT NULL,
    sha256 text NOT NULL,
    inspection text,
    revision integer,
    document_sha256 text,
    later boolean,
    after_chain text,
    after_size integer,
    after_root text,
    "time" text NOT NULL,
    stored timestamp with time zone DEFAULT now() NOT NULL,
    record bytea NOT NULL
);
CREATE TABLE public.fleet_checkpoints (
    site text NOT NULL,
    bay text NOT NULL,
    chain text NOT NULL,
    size integer NOT NULL,
    root text NOT NULL,
    stored timestamp with time zone DEFAULT now() NOT NULL,
    message bytea NOT NULL
);
CREATE TABLE public.fleet_walked (
    site text NOT NULL,
    bay text NOT NULL,
    chain text NOT NULL,
    size integer NOT NULL,
    root text NOT NULL,
    subtrees bytea NOT NULL,
    last text NOT NULL
);
CREATE VIEW public.fleet_chains AS
 SELECT site,
    bay,
    chain,
    COALESCE(w.walked, 0) AS walked,
    COALESCE(t.told, 0) AS told
   FROM (( SELECT fleet_walked.site,
            fleet_walked.bay,
            fleet_walked.chain,
            max(fleet_walked.size) AS walked
           FROM public.fleet_walked
          GROUP BY fleet_walked.site, fleet_walked.bay, fleet_walked.chain) w
     FULL JOIN ( SELECT fleet_checkpoints.site,
            fleet_checkpoints.bay,
            fleet_checkpoints.chain,
            max(fleet_checkpoints.size) AS told
           FROM public.fleet_checkpoints
          GROUP BY fleet_checkpoints.site, fleet_checkpoints.bay, fleet_checkpoints.chain) t USING (site, bay, chain));
CREATE TABLE public.fleet_checks (
    site text NOT NULL,
    bay text NOT NULL,
    inspection text NOT NULL,
    revision integer NOT NULL,
    check_name text NOT NULL,
    month date NOT NULL,
    opened timestamp with time zone NOT NULL,
    closed timestamp with time zone,
    state text NOT NULL,
    verdict text NOT NULL,
    engine text NOT NULL,
    damper text NOT NULL,
    method_id text NOT NULL,
    method_version text NOT NULL,
    method_sha256 text NOT NULL,
    gauge text,
    outcome text NOT NULL,
    limit_mm double precision,
    tir_mm double precision,
    true_mm double precision,
    u_mm double precision,
    p_over double precision
)
PARTITION BY RANGE (month);
CREATE TABLE public.fleet_checks_2026_11 (
    site text NOT NULL,
    bay text NOT NULL,
    inspection text NOT NULL,
    revision integer NOT NULL,
    check_name text NOT NULL,
    month date NOT NULL,
    opened timestamp with time zone NOT NULL,
    closed timestamp with time zone,
    state text NOT NULL,
    verdict text NOT NULL,
    engine text NOT NULL,
    damper text NOT NULL,
    method_id text NOT NULL,
    method_version text NOT NULL,
    method_sha256 text NOT NULL,
    gauge text,
    outcome text NOT NULL,
    limit_mm double precision,
    tir_mm double precision,
    true_mm double precision,
    u_mm double precision,
    p_over double precision
);
CREATE TABLE public.fleet_checks_2026_12 (
    site text NOT NULL,
    bay text NOT NULL,
    inspection text NOT NULL,
    revision integer NOT NULL,
    check_name text NOT NULL,
    month date NOT NULL,
    opened timestamp with time zone NOT NULL,
    closed timestamp with time zone,
    state text NOT NULL,
    verdict text NOT NULL,
    engine text NOT NULL,
    damper text NOT NULL,
    method_id text NOT NULL,
    method_version text NOT NULL,
    method_sha256 text NOT NULL,
    gauge text,
    outcome text NOT NULL,
    limit_mm double precision,
    tir_mm double precision,
    true_mm double precision,
    u_mm double precision,
    p_over double precision
);
CREATE TABLE public.fleet_checks_2027_01 (
    site text NOT NULL,
    bay text NOT NULL,
    inspection text NOT NULL,
    revision integer NOT NULL,
    check_name text NOT NULL,
    month date NOT NULL,
    opened timestamp with time zone NOT NULL,
    closed timestamp with time zone,
    state text NOT NULL,
    verdict text NOT NULL,
    engine text NOT NULL,
    damper text NOT NULL,
    method_id text NOT NULL,
    method_version text NOT NULL,
    method_sha256 text NOT NULL,
    gauge text,
    outcome text NOT NULL,
    limit_mm double precision,
    tir_mm double precision,
    true_mm double precision,
    u_mm double precision,
    p_over double precision
);
CREATE TABLE public.fleet_results (
    site text NOT NULL,
    bay text NOT NULL,
    inspection text NOT NULL,
    revision integer NOT NULL,
    month date NOT NULL,
    opened timestamp with time zone NOT NULL,
    closed timestamp with time zone,
    state text NOT NULL,
    verdict text NOT NULL,
    engine text NOT NULL,
    damper text NOT NULL,
    method_id text NOT NULL,
    method_version text NOT NULL,
    method_sha256 text NOT NULL,
    software text NOT NULL,
    document bytea NOT NULL
)
PARTITION BY RANGE (month);
ALTER TABLE ONLY public.fleet_results ALTER COLUMN document SET STORAGE EXTERNAL;
CREATE VIEW public.fleet_latest AS
 SELECT DISTINCT ON (fleet_results.site, fleet_results.bay, fleet_results.inspection) fleet_results.site,
    fleet_results.bay,
    fleet_results.inspection,
    fleet_results.revision,
    fleet_results.month,
    fleet_results.opened,
    fleet_results.closed,
    fleet_results.state,
    fleet_results.verdict,
    fleet_results.engine,
    fleet_results.damper,
    fleet_results.method_id,
    fleet_results.method_version,
    fleet_results.method_sha256,
    fleet_results.software,
    fleet_results.document
   FROM public.fleet_results
  ORDER BY fleet_results.site, fleet_results.bay, fleet_results.inspection, fleet_results.revision DESC;
CREATE TABLE public.fleet_revisions (
    site text NOT NULL,
    bay text NOT NULL,
    inspection text NOT NULL,
    revision integer NOT NULL,
    sha256 text NOT NULL,
    month date NOT NULL,
    stored timestamp with time zone DEFAULT now() NOT NULL
);
CREATE VIEW public.fleet_latest_checks AS
 SELECT c.site,
    c.bay,
    c.inspection,
    c.revision,
    c.check_name,
    c.month,
    c.opened,
    c.closed,
    c.state,
    c.verdict,
    c.engine,
    c.damper,
    c.method_id,
    c.method_version,
    c.method_sha256,
    c.gauge,
    c.outcome,
    c.limit_mm,
    c.tir_mm,
    c.true_mm,
    c.u_mm,
    c.p_over
   FROM (public.fleet_checks c
     JOIN ( SELECT fleet_revisions.site,
            fleet_revisions.bay,
            fleet_revisions.inspection,
            max(fleet_revisions.revision) AS revision
           FROM public.fleet_revisions
          GROUP BY fleet_revisions.site, fleet_revisions.bay, fleet_revisions.inspection) latest USING (site, bay, inspection, revision));
CREATE TABLE public.fleet_refused (
    sha256 text NOT NULL,
    topic text NOT NULL,
    reason text NOT NULL,
    why text NOT NULL,
    stored timestamp with time zone DEFAULT now() NOT NULL,
    payload bytea NOT NULL
);
CREATE VIEW public.fleet_missing AS
 SELECT c.site,
    c.bay,
    c.chain,
    c.place,
    c.sha256,
    c.inspection,
    c.revision,
    c.document_sha256,
    c.later,
    c.after_chain,
    c.after_size,
    c.after_root,
    c."time",
    c.stored,
    c.record
   FROM public.fleet_chain c
  WHERE ((c.document_sha256 IS NOT NULL) AND (NOT (EXISTS ( SELECT
           FROM public.fleet_revisions r
          WHERE ((r.site = c.site) AND (r.bay = c.bay) AND (r.inspection = c.inspection) AND (r.revision = c.revision))))) AND (NOT (EXISTS ( SELECT
           FROM public.fleet_refused f
          WHERE ((f.sha256 = c.document_sha256) AND (f.topic = (((((('ringtrue/1/'::text || c.site) || '/'::text) || c.bay) || '/inspection/'::text) || c.inspection) || '/result'::text)))))));
CREATE TABLE public.fleet_refused_gone (
    reason text NOT NULL,
    number bigint NOT NULL,
    bytes bigint NOT NULL,
    latest timestamp with time zone NOT NULL
);
CREATE TABLE public.fleet_taken_up (
    sha256 text NOT NULL,
    topic text NOT NULL,
    stored timestamp with time zone DEFAULT now() NOT NULL
);
CREATE VIEW public.fleet_refused_still AS
 SELECT f.sha256,
    f.topic,
    f.reason,
    f.why,
    f.stored,
    f.payload
   FROM public.fleet_refused f
  WHERE (NOT (EXISTS ( SELECT
           FROM public.fleet_taken_up t
          WHERE ((t.sha256 = f.sha256) AND (t.topic = f.topic)))));
CREATE TABLE public.fleet_results_2026_11 (
    site text NOT NULL,
    bay text NOT NULL,
    inspection text NOT NULL,
    revision integer NOT NULL,
    month date NOT NULL,
    opened timestamp with time zone NOT NULL,
    closed timestamp with time zone,
    state text NOT NULL,
    verdict text NOT NULL,
    engine text NOT NULL,
    damper text NOT NULL,
    method_id text NOT NULL,
    method_version text NOT NULL,
    method_sha256 text NOT NULL,
    software text NOT NULL,
    document bytea NOT NULL
);
ALTER TABLE ONLY public.fleet_results_2026_11 ALTER COLUMN document SET STORAGE EXTERNAL;
CREATE TABLE public.fleet_results_2026_12 (
    site text NOT NULL,
    bay text NOT NULL,
    inspection text NOT NULL,
    revision integer NOT NULL,
    month date NOT NULL,
    opened timestamp with time zone NOT NULL,
    closed timestamp with time zone,
    state text NOT NULL,
    verdict text NOT NULL,
    engine text NOT NULL,
    damper text NOT NULL,
    method_id text NOT NULL,
    method_version text NOT NULL,
    method_sha256 text NOT NULL,
    software text NOT NULL,
    document bytea NOT NULL
);
ALTER TABLE ONLY public.fleet_results_2026_12 ALTER COLUMN document SET STORAGE EXTERNAL;
CREATE TABLE public.fleet_results_2027_01 (
    site text NOT NULL,
    bay text NOT NULL,
    inspection text NOT NULL,
    revision integer NOT NULL,
    month date NOT NULL,
    opened timestamp with time zone NOT NULL,
    closed timestamp with time zone,
    state text NOT NULL,
    verdict text NOT NULL,
    engine text NOT NULL,
    damper text NOT NULL,
    method_id text NOT NULL,
    method_version text NOT NULL,
    method_sha256 text NOT NULL,
    software text NOT NULL,
    document bytea NOT NULL
);
ALTER TABLE ONLY public.fleet_results_2027_01 ALTER COLUMN document SET STORAGE EXTERNAL;
CREATE VIEW public.fleet_unproven AS
 SELECT r.site,
    r.bay,
    r.inspection,
    r.revision,
    r.sha256,
    r.month,
    r.stored
   FROM public.fleet_revisions r
  WHERE (NOT (EXISTS ( SELECT
           FROM public.fleet_chain c
          WHERE ((c.site = r.site) AND (c.bay = r.bay) AND (c.inspection = r.inspection) AND (c.revision = r.revision)))));
CREATE TABLE public.ringtrue_fleet_version (
    version_num character varying(32) NOT NULL
);
ALTER TABLE ONLY public.fleet_checks ATTACH PARTITION public.fleet_checks_2026_11 FOR VALUES FROM ('2026-11-01') TO ('2026-12-01');
ALTER TABLE ONLY public.fleet_checks ATTACH PARTITION public.fleet_checks_2026_12 FOR VALUES FROM ('2026-12-01') TO ('2027-01-01');
ALTER TABLE ONLY public.fleet_checks ATTACH PARTITION public.fleet_checks_2027_01 FOR VALUES FROM ('2027-01-01') TO ('2027-02-01');
ALTER TABLE ONLY public.fleet_results ATTACH PARTITION public.fleet_results_2026_11 FOR VALUES FROM ('2026-11-01') TO ('2026-12-01');
ALTER TABLE ONLY public.fleet_results ATTACH PARTITION public.fleet_results_2026_12 FOR VALUES FROM ('2026-12-01') TO ('2027-01-01');
ALTER TABLE ONLY public.fleet_results ATTACH PARTITION public.fleet_results_2027_01 FOR VALUES FROM ('2027-01-01') TO ('2027-02-01');
INSERT INTO public.fleet_bay_keys (site, bay, key, how, stored) VALUES ('greywacke', 'bay-2', '8f4ff8428ef835ac5b23509786f557cff96d4b149f55190a2758952ec0691fa7', 'first', '2026-11-26 21:13:49.946088+00');
INSERT INTO public.fleet_bay_keys (site, bay, key, how, stored) VALUES ('greywacke', 'bay-3', 'cff6b8d9b97651d29bac209cd24f6d1ac5966df2f09f2f2eeaadfce52aa8d07e', 'first', '2026-11-26 21:13:50.033114+00');
INSERT INTO public.fleet_breaks (site, bay, chain, place, what, why, inspection, revision, stored) VALUES ('greywacke', 'bay-2', '7e7574ef7ccbf018', 1, 'record-twice', 'another record is in this place: the chain has forked', 'truck-18', 1, '2026-11-26 21:13:50.081303+00');
INSERT INTO public.fleet_breaks (site, bay, chain, place, what, why, inspection, revision, stored) VALUES ('greywacke', 'bay-2', '7e7574ef7ccbf018', 1, 'checkpoint', 'a checkpoint of 2 records does not hold: one of them is another than it was then', NULL, NULL, '2026-11-26 21:13:50.081303+00');
INSERT INTO public.fleet_chain (site, bay, chain, place, sha256, inspection, revision, document_sha256, later, after_chain, after_size, after_root, "time", stored, record) VALUES ('greywacke', 'bay-2', '7e7574ef7ccbf018', 0, '16082200dec6189698c2f6bbb5a72d3fc274f82c912e35daf5ee29d676f13813', NULL, NULL, NULL, NULL, NULL, NULL, NULL, '2026-11-26T05:20:41.000Z', '2026-11-26 21:13:49.946088+00', '\x7b22626179223a226261792d32222c22636861696e223a2237653735373465663763636266303138222c22696e646578223a302c226b6579223a2238663466663834323865663833356163356232333530393738366635353763666639366434623134396635353139306132373538393532656330363931666137222c226b696e64223a22626567756e222c2270726576696f7573223a22222c22736368656d61223a2272696e67747275652f636861696e2f31222c227369676e6174757265223a223533633261636663623730363936346561363165363130303863383664333935316231323162636634656463323665616165653833636632386365396432373334343661353030353139373532616562333831613265313532666334303338663735386362396337343732643834643162306638343737383837643438663066222c2273697465223a22677265797761636b65222c2274696d65223a22323032362d31312d32365430353a32303a34312e3030305a222c22776879223a226669727374227d');
INSERT INTO public.fleet_chain (site, bay, chain, place, sha256, inspection, revision, document_sha256, later, after_chain, after_size, after_root, "time", stored, record) VALUES ('greywacke', 'bay-2', '7e7574ef7ccbf018', 1, '5670c34487d6eaf1284fac92b2e809ccfcdfcfba0aa774d5d70985fde09ac320', 'truck-14', 1, 'b83ecb0040ad8d08e13dccee7f2e064c4d4e4fdbb91f5556428f019bfa4d79d3', false, NULL, NULL, NULL, '2026-11-26T05:20:41.000Z', '2026-11-26 21:13:49.946088+00', '\x7b22626179223a226261792d32222c22636861696e223a2237653735373465663763636266303138222c22646f63756d656e745f736861323536223a2262383365636230303430616438643038653133646363656537663265303634633464346534666462623931663535353634323866303139626661346437396433222c22696e646578223a312c22696e7370656374696f6e223a22747275636b2d3134222c226b6579223a2238663466663834323865663833356163356232333530393738366635353763666639366434623134396635353139306132373538393532656330363931666137222c226b696e64223a22726573756c74222c226c61746572223a66616c73652c2270726576696f7573223a2231363038323230306465633631383936393863326636626262356137326433666332373466383263393132653335646166356565323964363736663133383133222c227265766973696f6e223a312c22736368656d61223a2272696e67747275652f636861696e2f31222c227369676e6174757265223a223438343737623633616262316630633161653230646335393435633435633339323163636231353631356631333565303131393239343462636435376465323937356361313066666438313066653231333530316161343537356537363534323832393465616332636166326333626338326638623966666638646638613030222c2273697465223a22677265797761636b65222c2274696d65223a22323032362d31312d32365430353a32303a34312e3030305a227d');
INSERT INTO public.fleet_chain (site, bay, chain, place, sha256, inspection, revision, document_sha256, later, after_chain, after_size, after_root, "time", stored, record) VALUES ('greywacke', 'bay-2', '7e7574ef7ccbf018', 2, '19297eccb575f652ab7d9a9529c94b997bc14a621f1328ac3134bfac7927f572', 'truck-14', 2, '5aaa386e8e22d019bee8f419df985d70ebe4a9fb51d5a672fb11b2d26a96e676', false, NULL, NULL, NULL, '2026-11-26T05:20:41.000Z', '2026-11-26 21:13:49.946088+00', '\x7b22626179223a226261792d32222c22636861696e223a2237653735373465663763636266303138222c22646f63756d656e745f736861323536223a2235616161333836653865323264303139626565386634313964663938356437306562653461396662353164356136373266623131623264323661393665363736222c22696e646578223a322c22696e7370656374696f6e223a22747275636b2d3134222c226b6579223a2238663466663834323865663833356163356232333530393738366635353763666639366434623134396635353139306132373538393532656330363931666137222c226b696e64223a22726573756c74222c226c61746572223a66616c73652c2270726576696f7573223a2235363730633334343837643665616631323834666163393262326538303963636663646663666261306161373734643564373039383566646530396163333230222c227265766973696f6e223a322c22736368656d61223a2272696e67747275652f636861696e2f31222c227369676e6174757265223a226137343930303965666337623435316332333764346231376433333835663064383336653338623239303961383762316261613862653261316636303731376338666531326637303866633538333464326464333765373261643264343362646363306364326138643134626662363836343366666633386430386662353035222c2273697465223a22677265797761636b65222c2274696d65223a22323032362d31312d32365430353a32303a34312e3030305a227d');
INSERT INTO public.fleet_chain (site, bay, chain, place, sha256, inspection, revision, document_sha256, later, after_chain, after_size, after_root, "time", stored, record) VALUES ('greywacke', 'bay-2', '7e7574ef7ccbf018', 3, '94bca03bbe75842f974feeb1b1b98aa4ea57329e8cfa424b880b43d12e845a46', 'truck-15', 1, 'fc5b135748493b36b0cdec884ac1e45f84ed0d893c587d0c6409c3a9c591205c', false, NULL, NULL, NULL, '2026-11-26T05:20:41.000Z', '2026-11-26 21:13:49.946088+00', '\x7b22626179223a226261792d32222c22636861696e223a2237653735373465663763636266303138222c22646f63756d656e745f736861323536223a2266633562313335373438343933623336623063646563383834616331653435663834656430643839336335383764306336343039633361396335393132303563222c22696e646578223a332c22696e7370656374696f6e223a22747275636b2d3135222c226b6579223a2238663466663834323865663833356163356232333530393738366635353763666639366434623134396635353139306132373538393532656330363931666137222c226b696e64223a22726573756c74222c226c61746572223a66616c73652c2270726576696f7573223a2231393239376563636235373566363532616237643961393532396339346239393762633134613632316631333238616333313334626661633739323766353732222c227265766973696f6e223a312c22736368656d61223a2272696e67747275652f636861696e2f31222c227369676e6174757265223a223336393064353061346662396161623937643731323531383933333133346532303134663161636563343537313235323435393530346466616135666133336538663338393339323731336534616634383837663438363933386639653465343831643034303635373465643534393733393532653430643366326630323033222c2273697465223a22677265797761636b65222c2274696d65223a22323032362d31312d32365430353a32303a34312e3030305a227d');
INSERT INTO public.fleet_chain (site, bay, chain, place, sha256, inspection, revision, document_sha256, later, after_chain, after_size, after_root, "time", stored, record) VALUES ('greywacke', 'bay-3', '375c99ac0e49fbb3', 0, 'aa82477bba5b17cd163f9185d8395137d9c97d8988865077c2732c7c21dacdc2', NULL, NULL, NULL, NULL, NULL, NULL, NULL, '2026-11-26T05:20:41.000Z', '2026-11-26 21:13:50.033114+00', '\x7b22626179223a226261792d33222c22636861696e223a2233373563393961633065343966626233222c22696e646578223a302c226b6579223a2263666636623864396239373635316432396261633230396364323466366431616335393636646632663039663266326565616164666365353261613864303765222c226b696e64223a22626567756e222c2270726576696f7573223a22222c22736368656d61223a2272696e67747275652f636861696e2f31222c227369676e6174757265223a223834386163613631343031306132353766653537653866633435613562313730356566623730653731393761646138323134366538336463323337666263346237376563343765633264663461336333353633643962663639326264336565633931333237656265343065383065306437623434396133653035366364343065222c2273697465223a22677265797761636b65222c2274696d65223a22323032362d31312d32365430353a32303a34312e3030305a222c22776879223a226669727374227d');
INSERT INTO public.fleet_chain (site, bay, chain, place, sha256, inspection, revision, document_sha256, later, after_chain, after_size, after_root, "time", stored, record) VALUES ('greywacke', 'bay-3', '375c99ac0e49fbb3', 1, '96086c3ed91bc026190f6b3e8df6a8a6ce9d47938c3f15e06df75e8fc5d3b35e', 'truck-17', 1, '75a8353696d9cb5d278ded20daa827b6fd7902f6775924418b40518cbd136152', false, NULL, NULL, NULL, '2026-11-26T05:20:41.000Z', '2026-11-26 21:13:50.033114+00', '\x7b22626179223a226261792d33222c22636861696e223a2233373563393961633065343966626233222c22646f63756d656e745f736861323536223a2237356138333533363936643963623564323738646564323064616138323762366664373930326636373735393234343138623430353138636264313336313532222c22696e646578223a312c22696e7370656374696f6e223a22747275636b2d3137222c226b6579223a2263666636623864396239373635316432396261633230396364323466366431616335393636646632663039663266326565616164666365353261613864303765222c226b696e64223a22726573756c74222c226c61746572223a66616c73652c2270726576696f7573223a2261613832343737626261356231376364313633663931383564383339353133376439633937643839383838363530373763323733326337633231646163646332222c227265766973696f6e223a312c22736368656d61223a2272696e67747275652f636861696e2f31222c227369676e6174757265223a223135373130346633633939613838356637653461303464626265353734376164393132373231333537616662653664616339373338323135626365326430356261623266356364666531326466396139353862643866373966626366353166356238613161353239303635363031306636316665626463653161616262383035222c2273697465223a22677265797761636b65222c2274696d65223a22323032362d31312d32365430353a32303a34312e3030305a227d');
INSERT INTO public.fleet_checkpoints (site, bay, chain, size, root, stored, message) VALUES ('greywacke', 'bay-2', '7e7574ef7ccbf018', 2, '53436da514364cc4a89c934ccdf99aae2997285049c7e833ae23c2cf315ec677', '2026-11-26 21:13:49.946088+00', '\x7b22626179223a226261792d32222c22636861696e223a2237653735373465663763636266303138222c226b6579223a2238663466663834323865663833356163356232333530393738366635353763666639366434623134396635353139306132373538393532656330363931666137222c22726f6f74223a2235333433366461353134333634636334613839633933346363646639396161653239393732383530343963376538333361653233633263663331356563363737222c22736368656d61223a2272696e67747275652f636865636b706f696e742f31222c227369676e6174757265223a223839353664326661353063613666366133326564303735383834386432633036363738333039326131313937646530623139646336653539376561356639336234303835373335373761363163626363643637316236336535336237653037386365623739623039663231336636336437353139623533653038376262333032222c2273697465223a22677265797761636b65222c2273697a65223a322c2274696d65223a22323032362d31312d32365430353a32303a34312e3030305a227d');
INSERT INTO public.fleet_checkpoints (site, bay, chain, size, root, stored, message) VALUES ('greywacke', 'bay-2', '7e7574ef7ccbf018', 3, '8cf872963d3ae05b6bc4f598488e572bda98e0a106a17cce69e69b725733fe2f', '2026-11-26 21:13:49.946088+00', '\x7b22626179223a226261792d32222c22636861696e223a2237653735373465663763636266303138222c226b6579223a2238663466663834323865663833356163356232333530393738366635353763666639366434623134396635353139306132373538393532656330363931666137222c22726f6f74223a2238636638373239363364336165303562366263346635393834383865353732626461393865306131303661313763636536396536396237323537333366653266222c22736368656d61223a2272696e67747275652f636865636b706f696e742f31222c227369676e6174757265223a223931633539323763386461356638353231303566323034633638656136653932666664346530633964666462363537356635363962636330643862326465333631643165346639356234653666653536333239326561313934653839626564326331383035353531346661616636373939373234333461393365326565373061222c2273697465223a22677265797761636b65222c2273697a65223a332c2274696d65223a22323032362d31312d32365430353a32303a34312e3030305a227d');
INSERT INTO public.fleet_checkpoints (site, bay, chain, size, root, stored, message) VALUES ('greywacke', 'bay-2', '7e7574ef7ccbf018', 4, '1ab9d272135f15437ddc050130cf0ac0f5cebe8fe730aabab322da968694e1c3', '2026-11-26 21:13:49.946088+00', '\x7b22626179223a226261792d32222c22636861696e223a2237653735373465663763636266303138222c226b6579223a2238663466663834323865663833356163356232333530393738366635353763666639366434623134396635353139306132373538393532656330363931666137222c22726f6f74223a2231616239643237323133356631353433376464633035303133306366306163306635636562653866653733306161626162333232646139363836393465316333222c22736368656d61223a2272696e67747275652f636865636b706f696e742f31222c227369676e6174757265223a226164323232653666316639616334616239386239383963666165663639346137646432613132623534323238393666633136653461316564346338363934643063666665366537306562333164353039623438316162333039633866626662373237643637393438656466373234333964343532626263356139303235313034222c2273697465223a22677265797761636b65222c2273697a65223a342c2274696d65223a22323032362d31312d32365430353a32303a34312e3030305a227d');
INSERT INTO public.fleet_checkpoints (site, bay, chain, size, root, stored, message) VALUES ('greywacke', 'bay-3', '375c99ac0e49fbb3', 2, '525b79d77ab8912123e90d11d4307b3cc412216316334e08cce8e09e559848bd', '2026-11-26 21:13:50.033114+00', '\x7b22626179223a226261792d33222c22636861696e223a2233373563393961633065343966626233222c226b6579223a2263666636623864396239373635316432396261633230396364323466366431616335393636646632663039663266326565616164666365353261613864303765222c22726f6f74223a2235323562373964373761623839313231323365393064313164343330376233636334313232313633313633333465303863636538653039653535393834386264222c22736368656d61223a2272696e67747275652f636865636b706f696e742f31222c227369676e6174757265223a223732363130326137376332366565346636326537323264356564336462323435393031336438353766383634366532323138386431386565323036376237346166316432393535613066383937663166626266333162306465316638303632663835616332373333333435313138363964363939626637646535356164363030222c2273697465223a22677265797761636b65222c2273697a65223a322c2274696d65223a22323032362d31312d32365430353a32303a34312e3030305a227d');
INSERT INTO public.fleet_checkpoints (site, bay, chain, size, root, stored, message) VALUES ('greywacke', 'bay-2', '7e7574ef7ccbf018', 2, '2b5c17933201e7e104fc45d58e0abf12b85c4594156f02a453c2f9aea4a4dec4', '2026-11-26 21:13:50.081303+00', '\x7b22626179223a226261792d32222c22636861696e223a2237653735373465663763636266303138222c226b6579223a2238663466663834323865663833356163356232333530393738366635353763666639366434623134396635353139306132373538393532656330363931666137222c22726f6f74223a2232623563313739333332303165376531303466633435643538653061626631326238356334353934313536663032613435336332663961656134613464656334222c22736368656d61223a2272696e67747275652f636865636b706f696e742f31222c227369676e6174757265223a226239316334323563353862663337383563356134643061613065653132386636613337633462376436303066623133363935363932663465323936316139336533373735626561653333646262333139643261643961636139313237323364623664373031356266653861616237336361373838383438336664383664663065222c2273697465223a22677265797761636b65222c2273697a65223a322c2274696d65223a22323032362d31312d32365430353a32303a34312e3030305a227d');
INSERT INTO public.fleet_checks_2026_11 (site, bay, inspection, revision, check_name, month, opened, closed, state, verdict, engine, damper, method_id, method_version, method_sha256, gauge, outcome, limit_mm, tir_mm, true_mm, u_mm, p_over) VALUES ('greywacke', 'bay-2', 'truck-14', 1, 'visual', '2026-11-01', '2026-11-26 04:58:16.123+00', '2026-11-26 05:14:02.5+00', 'signed', 'keep', 'GQ-E-2207', 'GQ-D-0815', 'example', '1', '8358905083589050835890508358905083589050835890508358905083589050', NULL, 'good', NULL, NULL, NULL, NULL, NULL);
INSERT INTO public.fleet_checks_2026_11 (site, bay, inspection, revision, check_name, month, opened, closed, state, verdict, engine, damper, method_id, method_version, method_sha256, gauge, outcome, limit_mm, tir_mm, true_mm, u_mm, p_over) VALUES ('greywacke', 'bay-2', 'truck-14', 1, 'rim', '2026-11-01', '2026-11-26 04:58:16.123+00', '2026-11-26 05:14:02.5+00', 'signed', 'keep', 'GQ-E-2207', 'GQ-D-0815', 'example', '1', '8358905083589050835890508358905083589050835890508358905083589050', 'indicator-1', 'within', 0.28, 0.19, 0.186, 0.008, 0.0001);
INSERT INTO public.fleet_checks_2026_11 (site, bay, inspection, revision, check_name, month, opened, closed, state, verdict, engine, damper, method_id, method_version, method_sha256, gauge, outcome, limit_mm, tir_mm, true_mm, u_mm, p_over) VALUES ('greywacke', 'bay-2', 'truck-14', 1, 'face', '2026-11-01', '2026-11-26 04:58:16.123+00', '2026-11-26 05:14:02.5+00', 'signed', 'keep', 'GQ-E-2207', 'GQ-D-0815', 'example', '1', '8358905083589050835890508358905083589050835890508358905083589050', 'indicator-1', 'within', 0.28, 0.124, 0.121, 0.008, 0.0001);
INSERT INTO public.fleet_checks_2026_11 (site, bay, inspection, revision, check_name, month, opened, closed, state, verdict, engine, damper, method_id, method_version, method_sha256, gauge, outcome, limit_mm, tir_mm, true_mm, u_mm, p_over) VALUES ('greywacke', 'bay-2', 'truck-14', 2, 'visual', '2026-11-01', '2026-11-26 04:58:16.123+00', '2026-11-26 05:14:02.5+00', 'signed', 'keep', 'GQ-E-2207', 'GQ-D-0815', 'example', '1', '8358905083589050835890508358905083589050835890508358905083589050', NULL, 'good', NULL, NULL, NULL, NULL, NULL);
INSERT INTO public.fleet_checks_2026_11 (site, bay, inspection, revision, check_name, month, opened, closed, state, verdict, engine, damper, method_id, method_version, method_sha256, gauge, outcome, limit_mm, tir_mm, true_mm, u_mm, p_over) VALUES ('greywacke', 'bay-2', 'truck-14', 2, 'rim', '2026-11-01', '2026-11-26 04:58:16.123+00', '2026-11-26 05:14:02.5+00', 'signed', 'keep', 'GQ-E-2207', 'GQ-D-0815', 'example', '1', '8358905083589050835890508358905083589050835890508358905083589050', 'indicator-1', 'within', 0.28, 0.19, 0.186, 0.008, 0.0001);
INSERT INTO public.fleet_checks_2026_11 (site, bay, inspection, revision, check_name, month, opened, closed, state, verdict, engine, damper, method_id, method_version, method_sha256, gauge, outcome, limit_mm, tir_mm, true_mm, u_mm, p_over) VALUES ('greywacke', 'bay-2', 'truck-14', 2, 'face', '2026-11-01', '2026-11-26 04:58:16.123+00', '2026-11-26 05:14:02.5+00', 'signed', 'keep', 'GQ-E-2207', 'GQ-D-0815', 'example', '1', '8358905083589050835890508358905083589050835890508358905083589050', 'indicator-1', 'within', 0.28, 0.124, 0.121, 0.008, 0.0001);
INSERT INTO public.fleet_checks_2026_11 (site, bay, inspection, revision, check_name, month, opened, closed, state, verdict, engine, damper, method_id, method_version, method_sha256, gauge, outcome, limit_mm, tir_mm, true_mm, u_mm, p_over) VALUES ('greywacke', 'bay-2', 'truck-15', 1, 'visual', '2026-11-01', '2026-11-26 04:58:16.123+00', '2026-11-26 05:14:02.5+00', 'signed', 'keep', 'GQ-E-2207', 'GQ-D-0815', 'example', '1', '8358905083589050835890508358905083589050835890508358905083589050', NULL, 'good', NULL, NULL, NULL, NULL, NULL);
INSERT INTO public.fleet_checks_2026_11 (site, bay, inspection, revision, check_name, month, opened, closed, state, verdict, engine, damper, method_id, method_version, method_sha256, gauge, outcome, limit_mm, tir_mm, true_mm, u_mm, p_over) VALUES ('greywacke', 'bay-2', 'truck-15', 1, 'rim', '2026-11-01', '2026-11-26 04:58:16.123+00', '2026-11-26 05:14:02.5+00', 'signed', 'keep', 'GQ-E-2207', 'GQ-D-0815', 'example', '1', '8358905083589050835890508358905083589050835890508358905083589050', 'indicator-1', 'within', 0.28, 0.19, 0.186, 0.008, 0.0001);
INSERT INTO public.fleet_checks_2026_11 (site, bay, inspection, revision, check_name, month, opened, closed, state, verdict, engine, damper, method_id, method_version, method_sha256, gauge, outcome, limit_mm, tir_mm, true_mm, u_mm, p_over) VALUES ('greywacke', 'bay-2', 'truck-15', 1, 'face', '2026-11-01', '2026-11-26 04:58:16.123+00', '2026-11-26 05:14:02.5+00', 'signed', 'keep', 'GQ-E-2207', 'GQ-D-0815', 'example', '1', '8358905083589050835890508358905083589050835890508358905083589050', 'indicator-1', 'within', 0.28, 0.124, 0.121, 0.008, 0.0001);
INSERT INTO public.fleet_checks_2026_11 (site, bay, inspection, revision, check_name, month, opened, closed, state, verdict, engine, damper, method_id, method_version, method_sha256, gauge, outcome, limit_mm, tir_mm, true_mm, u_mm, p_over) VALUES ('greywacke', 'bay-2', 'truck-16', 1, 'visual', '2026-11-01', '2026-11-26 04:58:16.123+00', '2026-11-26 05:14:02.5+00', 'signed', 'keep', 'GQ-E-2207', 'GQ-D-0815', 'example', '1', '8358905083589050835890508358905083589050835890508358905083589050', NULL, 'good', NULL, NULL, NULL, NULL, NULL);
INSERT INTO public.fleet_checks_2026_11 (site, bay, inspection, revision, check_name, month, opened, closed, state, verdict, engine, damper, method_id, method_version, method_sha256, gauge, outcome, limit_mm, tir_mm, true_mm, u_mm, p_over) VALUES ('greywacke', 'bay-2', 'truck-16', 1, 'rim', '2026-11-01', '2026-11-26 04:58:16.123+00', '2026-11-26 05:14:02.5+00', 'signed', 'keep', 'GQ-E-2207', 'GQ-D-0815', 'example', '1', '8358905083589050835890508358905083589050835890508358905083589050', 'indicator-1', 'within', 0.28, 0.19, 0.186, 0.008, 0.0001);
INSERT INTO public.fleet_checks_2026_11 (site, bay, inspection, revision, check_name, month, opened, closed, state, verdict, engine, damper, method_id, method_version, method_sha256, gauge, outcome, limit_mm, tir_mm, true_mm, u_mm, p_over) VALUES ('greywacke', 'bay-2', 'truck-16', 1, 'face', '2026-11-01', '2026-11-26 04:58:16.123+00', '2026-11-26 05:14:02.5+00', 'signed', 'keep', 'GQ-E-2207', 'GQ-D-0815', 'example', '1', '8358905083589050835890508358905083589050835890508358905083589050', 'indicator-1', 'within', 0.28, 0.124, 0.121, 0.008, 0.0001);
INSERT INTO public.fleet_checks_2026_11 (site, bay, inspection, revision, check_name, month, opened, closed, state, verdict, engine, damper, method_id, method_version, method_sha256, gauge, outcome, limit_mm, tir_mm, true_mm, u_mm, p_over) VALUES ('greywacke', 'bay-2', 'truck-18', 1, 'visual', '2026-11-01', '2026-11-26 04:58:16.123+00', '2026-11-26 05:14:02.5+00', 'signed', 'keep', 'GQ-E-2207', 'GQ-D-0815', 'example', '1', '8358905083589050835890508358905083589050835890508358905083589050', NULL, 'good', NULL, NULL, NULL, NULL, NULL);
INSERT INTO public.fleet_checks_2026_11 (site, bay, inspection, revision, check_name, month, opened, closed, state, verdict, engine, damper, method_id, method_version, method_sha256, gauge, outcome, limit_mm, tir_mm, true_mm, u_mm, p_over) VALUES ('greywacke', 'bay-2', 'truck-18', 1, 'rim', '2026-11-01', '2026-11-26 04:58:16.123+00', '2026-11-26 05:14:02.5+00', 'signed', 'keep', 'GQ-E-2207', 'GQ-D-0815', 'example', '1', '8358905083589050835890508358905083589050835890508358905083589050', 'indicator-1', 'within', 0.28, 0.19, 0.186, 0.008, 0.0001);
INSERT INTO public.fleet_checks_2026_11 (site, bay, inspection, revision, check_name, month, opened, closed, state, verdict, engine, damper, method_id, method_version, method_sha256, gauge, outcome, limit_mm, tir_mm, true_mm, u_mm, p_over) VALUES ('greywacke', 'bay-2', 'truck-18', 1, 'face', '2026-11-01', '2026-11-26 04:58:16.123+00', '2026-11-26 05:14:02.5+00', 'signed', 'keep', 'GQ-E-2207', 'GQ-D-0815', 'example', '1', '8358905083589050835890508358905083589050835890508358905083589050', 'indicator-1', 'within', 0.28, 0.124, 0.121, 0.008, 0.0001);
INSERT INTO public.fleet_checks_2026_11 (site, bay, inspection, revision, check_name, month, opened, closed, state, verdict, engine, damper, method_id, method_version, method_sha256, gauge, outcome, limit_mm, tir_mm, true_mm, u_mm, p_over) VALUES ('greywacke', 'bay-3', 'truck-20', 1, 'visual', '2026-11-01', '2026-11-26 04:58:16.123+00', '2026-11-26 05:14:02.5+00', 'signed', 'keep', 'GQ-E-2207', 'GQ-D-0815', 'example', '1', '8358905083589050835890508358905083589050835890508358905083589050', NULL, 'good', NULL, NULL, NULL, NULL, NULL);
INSERT INTO public.fleet_checks_2026_11 (site, bay, inspection, revision, check_name, month, opened, closed, state, verdict, engine, damper, method_id, method_version, method_sha256, gauge, outcome, limit_mm, tir_mm, true_mm, u_mm, p_over) VALUES ('greywacke', 'bay-3', 'truck-20', 1, 'rim', '2026-11-01', '2026-11-26 04:58:16.123+00', '2026-11-26 05:14:02.5+00', 'signed', 'keep', 'GQ-E-2207', 'GQ-D-0815', 'example', '1', '8358905083589050835890508358905083589050835890508358905083589050', 'indicator-1', 'within', 0.28, 0.19, 0.186, 0.008, 0.0001);
INSERT INTO public.fleet_checks_2026_11 (site, bay, inspection, revision, check_name, month, opened, closed, state, verdict, engine, damper, method_id, method_version, method_sha256, gauge, outcome, limit_mm, tir_mm, true_mm, u_mm, p_over) VALUES ('greywacke', 'bay-3', 'truck-20', 1, 'face', '2026-11-01', '2026-11-26 04:58:16.123+00', '2026-11-26 05:14:02.5+00', 'signed', 'keep', 'GQ-E-2207', 'GQ-D-0815', 'example', '1', '8358905083589050835890508358905083589050835890508358905083589050', 'indicator-1', 'within', 0.28, 0.124, 0.121, 0.008, 0.0001);
INSERT INTO public.fleet_refused (sha256, topic, reason, why, stored, payload) VALUES ('c975d3522e2bfb1b70fb901ac6bef0af0ee8a1f80c2a1009543de2863e008cb8', 'ringtrue/1/greywacke/bay-2/chain', 'forked', 'another record is in this place: the chain has forked (5670c34487d6eaf1… is kept)', '2026-11-26 21:13:50.081303+00', '\x78011d51c98edb300cfd179f271d92122929dfd1532f0389221323dbc076a61d14fdf7cab908e282b7f1efd4eaf774dcdf034d6f939eeb7c1f75b2c4299a27d5e680798cfa439f37bb6f1febb912cb5812f51c432fa0395b8f264d5d829b75c9aa1a957355122608cd5ba868313b8b7b880a187580cef76e7fa623eebff5d3749b1f3bfdb63cf57278d15e6cd7973dfa20a36c9e0357e54681a1a42cce9cd4bd488f0d63192516a8943817265390825ed3a0ba0cae81b4d8fabc6ea3bed6cd96e9e8f5badadbf4b9d8d7fc78ae6303053211403715cc454a567269ad714dd4832ba5e899b42059e05e9dcda87449e218328681bd83ad2f2bc3d9aa67bbd59d7abe9f86337b7fa5fc8e63719d4ff7ba3d171b63a1da998522472881456db8c0567bacdccdddc6c89d29a7d463b6dcb0194315b0a0ca324225909e53aca14940dc4f124628d824a5a80e2128f698228c0bf49e464cda5b432e8db8437cc9d97625a7c5be7f57bdd8686df36d6f11901c100f243f818f04c7883f00e0d7f4ef3f2d0aa64c');
INSERT INTO public.fleet_refused (sha256, topic, reason, why, stored, payload) VALUES ('3845562e994acdf8857cc0c08725c2e92f39301ecb70a3d51d1ac62759d09fb4', 'ringtrue/1/greywacke/bay-2/inspection/truck-19/result', 'newer', 'ringtrue/result/2, and this writer knows ringtrue/result/1: ringtrue is newer there', '2026-11-26 21:13:50.125918+00', '\x7801d556dd8a1b37187d152108a4e07134638fd79edc3694de9436040a0dcba09d913daa35d22069e25dcc3e545fa14f96f3c9b35e6f9a2c3450e8ded823e9d3f7a7738e74e4a1e9542f79c5bdb6bbe847f5c6ab309af8a6e033ae6d185413b5b330c062b3cff20de6bdfaa4439acd673c441915d683de59d56235e834de79757790cd5e61ea46dec102bf19b90d8d1b6887b399b23b6dc962faa88e3c28afa5c1f24fbf65efb2a21057586e35c2d846d5fb9e57f97a5908311733deb9d187bac354bebec2cc3d2c653f28cfbf70f46326d67909478db3812a998af2ce18248d7d07e7f7b5f32deda5d0bf678bc526c70ee44a7555bc10c52acbf3ac587d10cbaa5c57f96a9e178b3fc8ab71e11f3665952f2b51cc4b21c866eacf533f6555886a99cfc5a54d7d43dd7a3f67ef6e518ca1f6f42a760e491cb9a654d479e193f2a793e0946be86451ae60b05e94eb8d28c5f7fe5347808c661f28264e7ba423397237c6c6f574783b877c080a3224784863d882e1e8fbc082529649dbb2c928cdf2ea23b2c73a361b25f7942eec1e5d45751b31fac5b1a08dc64129b635a36e99b3cc7976a38c3bb0d829361df1fdececaf553686671ca67572129d33ac977e1f98b6c9592303908f7acfce06a96dfc96b35f699159a591087232c0a5f2aa6516ce01d2c6194032d1c0ba4483760cf18edf5fa3a15ea3f6cb1e1ee045dbcb2e1203d9879fdf3331cfd72bd6f7ecefbff02dc49abe5f6f4af6ea07a6033bed4c0518ddebc8dc1666c5c9aae9882a3475a3501b73004935f50f7ed9abb7cc8f46556c374a00be65b269d490f8954ecdab3f4fac9f310ac8022a7acb8c737b963319d0bb2daadd5c2117e49ee2d73d4aa304663c6a3f8df20d4628a8be985aaf667cacd5ed0078a876324479c44ca42977c096986fca191f6a9aa011c8019de9a4ef9dd50d1009204d4cc53c5144c7b1550fce1075e8645075ab769cc855d0e14e1b8aaf6c10cb273bf20242720d4942576cf4bad1f1eec277a7775d1d06171ffd4fc9a39e1472b12ae7480cd468d17ee4bbce117627472a6e62b0b6ad6e64743e23de42739d1949931e0251c510b2f3102936d2e81b2f93553b1207a1485799586522e7f7c0d7563629c023499f075891bf74801568cb97082bd0b9ff1861c0f005c28a7f079864fe7f400c51d5c4baf712578a98a395eab6312012861f7121b7905f272344063f3dc878929d936a7a69f715945941472724b3465a881e1b3c6c7113f06b0225388c7512f6bd52c359eb88c5d3bd52b1e7ee0e8866c55ea02c12199f26fe22e806ddb3b887eb2430c7a7efaec557de5dcbf4eea26757baed9222a53712bd2082dbc683f424550fcf4bbad8e6e20483a48ef5f9cdd2ca6d596e8bd5f7fef3fbcfaf7559a5');
INSERT INTO public.fleet_refused (sha256, topic, reason, why, stored, payload) VALUES ('2561969ef0e66eb91c7d516472ff6d845c8ddb166150dee8bb6bf2e94385b859', 'ringtrue/1/greywacke/bay-2/chain', 'malformed', 'no JSON object with a schema; ringtrue/chain/1 is expected under this topic', '2026-11-26 21:13:50.125918+00', '\x7801cbcb57284a4dce2f4a01001105037d');
INSERT INTO public.fleet_refused (sha256, topic, reason, why, stored, payload) VALUES ('a53dd6c05c06359355ee3edfb265363d5fddcad752c3a14b1b62188248561b6c', 'ringtrue/1/greywacke/bay-3/chain', 'other-key', 'it is signed by 1db6b9e65febcc73396356d0d823871388452c544814eb74e0e209a957c4c9e6, and its bay''s is cff6b8d9b97651d2…', '2026-11-26 21:13:50.165163+00', '\x78011d904172c3300845efe275d2202440f239baea4e4828f164e2761cbb69a6d3bb57ce86e1ff0fe88d7e07cdcf61dcebd10f87a15cf234efba62695151d55566ad3d9ae66a3fc30887e16afb8aabca9a8ca9999622de27f6c4156a441fc5f9180361a110a20ba6120c0c21e5445242e97bfde4b5dfdc1fb3f33677f9b5d8f7f4b9ddbbd5d5bd5cec967bbf4cf3795d363bbde04e6ecfa6f39cd76db11e23660d24c22caa9dc0254fc121934b221aa0458c315a3240491cb2475f0cd1b304e2ecab64ad440858844173e5c2c0311265c0189a48426e24b1952abe0179eb1e96588b5a1f0d2f9c7527392ff67ce472b56eadd3ed0507c847e78ec8ef4023c218dc1b007cf489c765ffc5362df775f8fb07e1956d2e');
INSERT INTO public.fleet_refused (sha256, topic, reason, why, stored, payload) VALUES ('553400ec91f90ff27287756799c6549ad288e9612004308464cd4e20070961a5', 'ringtrue/1/greywacke/bay-3/chain', 'other-key', 'it is signed by 1db6b9e65febcc73396356d0d823871388452c544814eb74e0e209a957c4c9e6, and its bay''s is cff6b8d9b97651d2…', '2026-11-26 21:13:50.165163+00', '\x78011d504b8edb300cbd8bd7930e258afae41c5d755350249518499c81edb41d14bd7be9d94822f9f43efc3b75fe9ccec779c2e96d922bcfcb516b94517bec3d68ce5d7da44f793d6cd97f6e578e941d0442d8b4b6944248119aaa0e362328230de9d09b208b056a09db28c8068a1146c899a07776d27951fb339dc3f1da3e4cf6f979c8efeb4b6ea7088eb8d9e12f68cfbd59a6615da420b68c9415b446ac2560ad89a2504a3524eb2519981be2464592f8bf83c8b59c69b5ed75dfbdbef36eeb741e7cdfec6dfa58edd7fc7c6d8e6042d52c40022ed290c80c4d478f9930a3d25015d6e282c821f5d0730cb5c65429fb5b9cfb20dbbea278b24daef6e0437a5e2e9eccdebfb6fc1e1cb8cd9785f7d76a3e36452a398e91583aab6fde2096d43dba4545ae6d042d5a5a52085649904221aadc6a0dac9008255841236d12fd1a9a43d25c8c3c454628a511335564ca66129b06373c4a1a35021c3bdae6fd707259edf337cbcdbcb5cf8fa31521e65308a798bf039d239c53f806003fa67fff011c39a61e');
INSERT INTO public.fleet_refused (sha256, topic, reason, why, stored, payload) VALUES ('0ef9c2ac5357bfa5b8744aaed991d062a6a4e56de53f898e74ac9927fa67c908', 'ringtrue/1/greywacke/bay-3/checkpoint', 'other-key', 'it is signed by 1db6b9e65febcc73396356d0d823871388452c544814eb74e0e209a957c4c9e6, and its bay''s is cff6b8d9b97651d2…', '2026-11-26 21:13:50.165163+00', '\x7801258fcb4e03310c45ff65d62df52baf7e072b76b1e3b4a3aa2d1aa64205f1ef64c08b48bebe3ebef99eb43ea7e3f6ee79da4d76aef36deb1b59cf4aaad862d4364617df8cd8346af118baab59622e91436cd032714ec8394b200b2219c535898313945a4232b1b13740cbfdbe0e52717337c84298902a724152a8b98182a8534b3d756c9c728ab1968cb61d71530169d4ea207dd8d9af75b096f9765a97871f866097f7fb7c5b0fb819e6d3adae8fc5872776cf5cc5804598b57b670e8e11193df78e5ac8926b09dd468ad23471e4ed678c5213a490c93418d5e4b9716b09906820dba88a9964c446ecd42301f6121833b8611feb9119fc2fceba25392dfefcac76f997be8644bb699dafdb8c80e21e714ff115c291e028f802006fd3cf2fe4c67765');
INSERT INTO public.fleet_results_2026_11 (site, bay, inspection, revision, month, opened, closed, state, verdict, engine, damper, method_id, method_version, method_sha256, software, document) VALUES ('greywacke', 'bay-2', 'truck-14', 1, '2026-11-01', '2026-11-26 04:58:16.123+00', '2026-11-26 05:14:02.5+00', 'signed', 'keep', 'GQ-E-2207', 'GQ-D-0815', 'example', '1', '8358905083589050835890508358905083589050835890508358905083589050', 'ringtrue 0.1.0', '\x7801d556dd8a1b37187d152108a4e07134638fd79edc3694de9436040a0dcba09d913daa35d22069e25dcc3e545fa14f96f3c9b35e6f9a2c3450e8ded823e9d3f7a7738e74e4a1e9542f79c5bdb6bbe847f5c6ab309af826e733ae6d185413b5b330c062b3cff225e6bdfaa4439acd673c441915d683de59d56235e834de79757790cd5e61ea46dec102bf5941068d1b6887b399b23b6dc962faa88e3c28afa5c1f24fbf65efb2a21057586e35c2d846d5fb9e57f97a5908311733deb9d187bac354bebec2cc3d2c653f28cfbf70f46326d67909478db3812a998af2ce18248d7d07e7f7b5f32deda5d0bf678bc5869a805ca9ae8a17a25865799e15ab0f625995eb2a5fcdf362f10779352efcc3a6acf265258a792904d94cfd79eaa7ac0a512df3b9b8b4a96fa85befe7ecdd2d8a31d49e5ec5ce218923d7948a3a2f7c52fe74129c720d9d2cca150cd68b72bd11a5f8de7fea0890d1ec03c5c4698f742447eec6d8b89e0e6fe7900f414186040f690c5b301c7d1f5850ca32695b3619a5595e7d44f658c766a3e49ed285dda3aba86e2346bf3816b4d13828c5b666d42d739639cf6e947107163bc5a623be9f9dfdb5cac6f08cc3b44e4ea27386f5d2ef03d336396b6400f251efd9d920b58ddf72f62b2d32ab3412414e06b8545eb5ccc23940da380348261a589768d08e21def1fb6b34d46bd47ed9c303bc687bd9456220fbf0f37b26e6f97ac5fa9efdfd17be8558d3f7eb4dc95efdc07460a79da900a37b1d99dbc2ac3859351d5185a66e146a630e20a9a6fec12f7bf596f9d1a88aed4609c0b74c368d1a12bfd2a979f5e789f53346015940456f99716ecf7226037ab745b59b2be482dc53fcba476994c08c47eda751bec10805d51753ebd58c8fb5ba1d000fd54e86288f988934e50ed812f34d39e3434d13340239a0339df4bdb3ba012201a489a998278ae838b6eac119a20e9d0caa6ed58e13b90a3adc6943f1950d62f964475e4048ae2149e88a8d5e373ade5df8eef4aeabc3e0e2a3ff2979d493422e56e51c89811a2dda8f7cd739c2eee448c54d0cd6b6d58d8cce67c45b68ae332369d24320aa1842761e22c5461a7de365b26a47e22014e92a13ab4ce4fc1ef8daca26057824e9f3002bf2970eb0026df91261053af71f230c18be4058f1ef0093ccff0f8821aa9a58f75ee24a1173b452dd360644c2f0232ee416f2eb6484c8e0a707194fb273524d2fedbe82322be8e88464d6480bd16383872d6e027e4da00487b14ec2be576a386b1db178ba572af6dcdd01d1acd80b944522e3d3c45f04dda07b16f7709d04e6f8f4ddb5f8cabb6b99de5df4ec4ab75d52a4f446a2174470db78909ea4eae1794917db5c9c6090d4b13ebf595ab92dcb6db1fade7f7eff196fb5599f');
INSERT INTO public.fleet_results_2026_11 (site, bay, inspection, revision, month, opened, closed, state, verdict, engine, damper, method_id, method_version, method_sha256, software, document) VALUES ('greywacke', 'bay-2', 'truck-14', 2, '2026-11-01', '2026-11-26 04:58:16.123+00', '2026-11-26 05:14:02.5+00', 'signed', 'keep', 'GQ-E-2207', 'GQ-D-0815', 'example', '1', '8358905083589050835890508358905083589050835890508358905083589050', 'ringtrue 0.1.0', '\x7801d556dd8a1b37187d152108a4e07134638fd79edc3694de9436040a0dcba0d5c8b66a8d34489aec2ecb3e545fa14f96f3c9b35e6fd22c3450e8ded823e9d3f7a7738e74c7a3daeb5ef28607e376298cfa4dd071b4e94dc967dcb83868958c7730c0a23a14e512f3417f3231cf56331e934c1aebd1ec9ceeb01a4d1eef82bebd96eaa03175256f6181dfa22203e507dae15da1ddce38b2983e9a3b1e7530d262f9a7df8a774555890b2c7706619cd2eda1e74db95e5642ccc58ceffd1862bbc754b9bec0cc3d2c653fe8c0bf70f46321d6650d47cabb48954c45056f2d92c6be6b1f0ead0f1deda5d0bf178bc5869a805ca9ae8657a25a15655954ab0f62d9d4eba65ccdcb6af10779b53e7e655337e5b211d5bc16826ca6fe3cf55337956896e55c9cdbb457d4adf773f6ee06c5586a4fafd3de23893b6e28157d5af8a4c3f12438e51af7b2aa5730582feaf546d4e27bffa92340863a448a89d31ee948eeb81f93f23d1ddece231f82828c191ed25ab66038fa3eb2a8b563d2756c32cab3bcf988ecb18ecd56cb03a50bbb475749df248c7ef12c1a6b70509a6ded683ae61df3815d69ebaf59da6b361df1fdece4afd32ec5671ce6757292bcb7ac97e1109971d9999211c847bd276783342e7dcbd9afb4c89c3648043959e05207dd3107e700a9f21690cc34703ed3a01b63bae5f797686830a8fdbc87d7f062dc79178981ecc3cfef999897eb15eb7bf6f75ff816624ddfaf37357bf50333911d77e602ace94d627e0bb3ea68a5f644159abad2a88d7980a499fa07bfecd55b1646ab1bb61b2500df31a9941e32bff2a905fde791f53346015944456f99f5fec04a26237ab745b59b0be482dc73fcb6476994c08c2713a651b9c10805b56753ebd58c8fadbe19000fdd4d86288f988934e50ed812f34d3de3434b133402394a705d86de3ba380480069622ae68922268d9d7e7086a8c35e46dd767ac7895c151deeb40182f5d506b17cb2a3ac202497902474c5a5609449b767bef766b76fe3e0d3a3ff2979d493432e56f51c89811a1dda8f7cd725c2eee448c54d0c36ae334a261f0ae22d34d7db9134e92110550c213b0d91a292d65c0599adba91380845ba28c4aa1025bf07beb652e5008f247d1e6055f9d20156a12d5f22ac42e7fe638401c36708abfe1d60b2f9ff013144559bda3e485c29628e56ea1b6541240c3fe242ee20bf5e26880c7e7a90f1283b47d50cd21d1a28b3868e4e48664a3a881e1b026c7113f04b0225388c7512f683d6c349eb88c5d3bdd2b0e7ee0e8866c35ea02c12199f26fe22e806dd73b887db2c30774fdf5d8b7f78772df3bb8b9e5df9b6cb8a94df48f482887e9bae6520a97a785ed2c53617471864756c4f6f964e6eeb7a5badbef79fdf7f067a4359a0');
INSERT INTO public.fleet_results_2026_11 (site, bay, inspection, revision, month, opened, closed, state, verdict, engine, damper, method_id, method_version, method_sha256, software, document) VALUES ('greywacke', 'bay-2', 'truck-15', 1, '2026-11-01', '2026-11-26 04:58:16.123+00', '2026-11-26 05:14:02.5+00', 'signed', 'keep', 'GQ-E-2207', 'GQ-D-0815', 'example', '1', '8358905083589050835890508358905083589050835890508358905083589050', 'ringtrue 0.1.0', '\x7801d556dd8a1b37187d152108a4e07134638fd79edc3694de9436040a0dcba0d5c81ed51ac9489aec2ecb3e545fa14f96f3c9b35e6f9a2c3450e8ded823e9d3f7a7738e74c7a3eaf52079c38371bb1446fd26e838daf4a6e4336e5c3c68958c7730c0a2da17658df9a03f999867cb198f49268df568764e77588d268f7741df5e4bb5d798ba92b7b0c06f519181f207dae15da1ddce38b2983e9a3b1e7530d262f9a7df8a774555890b2c7706619cd2ed7ee04db95e5642ccc58cf77e0cb1ed3155ae2f30730f4b391c74e05f38fab110eb9cbaf22e52255351c15b8ba4b1efda877deb43477b29f4efc562b1a1262057aaabe195a856455916d5ea835836f5ba2957f3b25afc011b657dfc874ddd94cb4654f35a08b299faf3d44fdd54a2599673716ed35e51b7decfd9bb1b1463a93d834ebd471277dc502afab4f04987e34970ca35f6b2aa5730582feaf546d4e27bffa9234086da478a89d31ee948eeb81f93f2031ddece231f82828c191ed25ab66038fa21b2a8b563d2756c32cab3bcf988ecb18ecd56cb3da50bbb475749df248c7ef12c1a6b70509a6ded683ae61df3815d69ebaf59ea359b8ef87e76f2d76997e2330ef33a3949de5b36c8b08fccb8ec4cc908e4a3de93b383342e7dcbd9afb4c89c3648043959e05207dd3107e700a9f21690cc34703ed3a01b63bae5f797686830a8fdbc87d7f062dc79178981ecc3cfef999897eb151b06f6f75ff816624ddfaf37357bf50333911d77e602ac194c627e0bb3ea68a57aa20a4d5d69d4c63c40d24cfd835ff6ea2d0ba3d50ddb8d1280ef98544a1f32bff2a905fde791f53346015944456f99f57ecf4a26237ab745b59b0be482dc73fc76406994c08c2713a651b9c10805b56753ebd58c8fadbe39001eba9b0c511ee04669ca1db025e69b7ac60f2d4dd008e480cef4320cde19054402481353314f143169ecf48333443df432eab6d33b4ee4aae870a70dd5573688e5931d650521b98424a12b2e05a34cba3df3dd9b5ddfc6834f8ffea7e4514f0eb958d57324066a74683ff25d9708bb9323153731d8b8ce28997c2888b7d05c6f47d2a48740543184ec34448a4a5a731564b6ea46e22014e9a210ab4294fc1ef8da4a95033c92f4798055e54b075885b67c89b00a9dfb8f11060c9f21acfa7780c9e6ff07c410556d6a872071a588395aa96f94059130fc880bb983fc7a992032f81940c6a3ec1c553348b76fa0cc1a3a3a219929e9207aec10608b9b805f1228c161ac93b0efb53e9cb48e583cdd2b0d7beeee806836ec05ca2291f169e22f826ed03d877bb8cd0273f7f4ddb5f8cabb6b99df5df4eccab75d56a4fc46a21744f4db742d0349d5c3f3922eb6b938c220ab637b7ab374725bd7db6af5bdfffcfe337a5159a0');
INSERT INTO public.fleet_results_2026_11 (site, bay, inspection, revision, month, opened, closed, state, verdict, engine, damper, method_id, method_version, method_sha256, software, document) VALUES ('greywacke', 'bay-2', 'truck-16', 1, '2026-11-01', '2026-11-26 04:58:16.123+00', '2026-11-26 05:14:02.5+00', 'signed', 'keep', 'GQ-E-2207', 'GQ-D-0815', 'example', '1', '8358905083589050835890508358905083589050835890508358905083589050', 'ringtrue 0.1.0', '\x7801d556dd8a1b37187d152108a4e07134638fd79edc3694de9436040a0dcba09d913daa35d22069e25dcc3e545fa14f96f3c9b35e6f9a2c3450e8ded823e9d3f7a7738e74e4a1e9542f79c5bdb6bbe847f5c6ab309af826e733ae6d185413b5b330c062b3cff215e6bdfaa4439acd673c441915d683de59d56235e834de79757790cd5e61ea46dec102bf5941068d1b6887b399b23b6dc962faa88e3c28afa5c1f24fbf65efb2a21057586e35c2d846d5fb9e57f97a5908311733deb9d187bac354bebec2cc3d2c653f28cfbf70f46326d67909478db3812a998af2ce18248d7d07e7f7b5f32deda5d0bf678bc5869a805ca9ae8a17a25865799e15ab0f625995eb2a5fcdf362f10779352efcc3a6acf265258a792904d94cfd79eaa7ac0a512df3b9b8b4a96fa85befe7ecdd2d8a31d49e5ec5ce218923d7948a3a2f7c52fe74129c720d9d2cca150cd68b72bd11a5f8de7fea0890d1ec03c5c4698f742447eec6d8b89e0e6fe7900f414186040f690c5b301c7d1f5850ca32695b3619a5595e7d44f658c766a3e49ed285dda3aba86e2346bf3816b4d13828c5b666d42d739639cf6e947107163bc5a623be9f9dfdb5cac6f08cc3b44e4ea27386f5d2ef03d336396b6400f251efd9d920b58ddf72f62b2d32ab3412414e06b8545eb5ccc23940da380348261a589768d08e21def1fb6b34d46bd47ed9c303bc687bd9456220fbf0f37b26e6f97ac5fa9efdfd17be8558d3f7eb4dc95efdc07460a79da900a37b1d99dbc2ac3859351d5185a66e146a630e20a9a6fec12f7bf596f9d1a88aed4609c0b74c368d1a12bfd2a979f5e789f53346015940456f99716ecf7226037ab745b59b2be482dc53fcba476994c08c47eda751bec10805d51753ebd58c8fb5ba1d000fd54e86288f988934e50ed812f34d39e3434d13340239a0339df4bdb3ba012201a489a998278ae838b6eac119a20e9d0caa6ed58e13b90a3adc6943f1950d62f964475e4048ae2149e88a8d5e373ade5df8eef4aeabc3e0e2a3ff2979d493422e56e51c89811a2dda8f7cd739c2eee448c54d0cd6b6d58d8cce67c45b68ae332369d24320aa1842761e22c5461a7de365b26a47e22014e92a13ab4ce4fc1ef8daca26057824e9f3002bf2970eb0026df91261053af71f230c18be4058f1ef0093ccff0f8821aa9a58f75ee24a1173b452dd360644c2f0232ee416f2eb6484c8e0a707194fb273524d2fedbe82322be8e88464d6480bd16383872d6e027e4da00487b14ec2be576a386b1db178ba572af6dcdd01d1acd80b944522e3d3c45f04dda07b16f7709d04e6f8f4ddb5f8cabb6b99de5df4ec4ab75d52a4f446a2174470db78909ea4eae1794917db5c9c6090d4b13ebf595ab92dcb6db1fade7f7eff1984ed59a1');
INSERT INTO public.fleet_results_2026_11 (site, bay, inspection, revision, month, opened, closed, state, verdict, engine, damper, method_id, method_version, method_sha256, software, document) VALUES ('greywacke', 'bay-2', 'truck-18', 1, '2026-11-01', '2026-11-26 04:58:16.123+00', '2026-11-26 05:14:02.5+00', 'signed', 'keep', 'GQ-E-2207', 'GQ-D-0815', 'example', '1', '8358905083589050835890508358905083589050835890508358905083589050', 'ringtrue 0.1.0', '\x7801d556dd6edb36187d158240810eb05c4ab61c59bd5d31ec66d88a020356040223d116678a1448aa4910e4a1f60a7bb29e8f561ca76b03acc080e5c616c98fdf1fcf39e41d0f6daf06c96beeb5dd473fa9375e85c9c437395f706dc3a8daa89d850116db43965798f7ea930e69365ff0106554580f7a6f5587d5a0d378efd5edb56c0f0a5357f21616f8cd0a3268dd483b9ccd94dd6b4b16f3477dc783f25a1a2cfff45bf62e2b0a7181e54e238c6d557318789d57eb4288a558f0de4d3e343da6f2ea0233f7b094c3a83cffc2d18f99a8f2128e5a6703553217e59d31481afbae9d3f34ce77b49742ff9ead565b6a0272a5ba6a5e886293e579566c3e88755d5675be59e6c5ea0ff26a5cf8874d59e7eb5a14cb5208b299fbf3d44f5917a25ee74b716ed35c51b7de2fd9bb1b1463a83d838abd4312775c532aeab4f049f9e34970ca35f4b2283730a85665b515a5f8de7fea0890d11e02c5c4694f742477dc4db175031ddede211f82820c091ed218b66238fa21b0a09465d2766c364ab3bcfe88ecb18ecd46c903a50bbb475751dd448c7e712c68a371508aedcca43be62c739e5d29e3ae59ec159b8ff87e71f2d7291bc3330ed33a3989ce1936487f084cdbe4ac9501c847bd2767a3d4367ecbd9afb4c8acd248043919e05279d5310be70069eb0c209968605da241378578cbef2fd150af51fb790fafe145dbf32e1203d9879fdf33b1ccab0d1b06f6f75ff816a2a2efd7db92bdfa81e9c08e3b5301460f3a32b7835971b46a7ba20a4d5d29d4c61c4052cffd835ff6ea2df3935135db4f1280ef986c5b35267ea553f3eacf23eb178c02b2808ade32e3dc81e54c06f46e876ab717c805b9a7f8cd80d22881058fdacfa37c8b110a6acea6aacd824f8dba19010fd5cd86288f988934e51ed812cb6db9e0634313340239a033bdf483b3ba052201a499a998278ae83875eac119a28ebd0caae9d49e13b90a3adc7943f1950d62fd64475e40482e2149e88a8d5eb73ade9ef9eef5be6fc2e8e2a3ff3979d49342ae36e51289811a1dda8f7cab1c61f772a2e266066bdbe95646e733e22d34d7998934e92110550c213b0d91622b8dbef23259751371108a7491894d26727e0f7ced649b023c92f4798015f94b075881b67c89b0029dfb8f11060c9f21acf8778049e6ff07c410554d6c062f71a588255aa96e5a032261f811177207f975324264f033808c47d939aaa697f650439915747446326ba585e8b1d1c3163701bf245082c35827613f28359eb48e583cdf2b357beeee8068d6ec05ca2291f169e22f826ed03d8b7bb8490273f7f4ddb5facabb6b9dde5df4ec4ab75d52a4f446a2174470bb782d3d49d5c3f3922eb6a538c220a963737ab374725796bb62f3bdfffcfe339a2559a3');
INSERT INTO public.fleet_results_2026_11 (site, bay, inspection, revision, month, opened, closed, state, verdict, engine, damper, method_id, method_version, method_sha256, software, document) VALUES ('greywacke', 'bay-3', 'truck-20', 1, '2026-11-01', '2026-11-26 04:58:16.123+00', '2026-11-26 05:14:02.5+00', 'signed', 'keep', 'GQ-E-2207', 'GQ-D-0815', 'example', '1', '8358905083589050835890508358905083589050835890508358905083589050', 'ringtrue 0.1.0', '\x7801d556dd8a1b37187d152108a4e07134638fd79edc3694de9436040a0dcba0d5c81ed51a699034f12e661faaafd027cbf9c6b35e6f9a2c3450e8ded823e9d3f7a7738e74e451b5ba93bce2c1b85d0a837e13741c6c7a93f319372ef65a25e31d0cb0a8f65921301ff42713c7d97cc6639249633d9a9dd30d56a319c7bba0ef0e52ed35a66ee41d2cf09b2dc840f99e76789769b7338e2ca68feac8a30e465a2cfff45bf62e2b0a7185e5c6208c53bade77bccad7cb4288b998f1d60f21d62da6f2f51566ee6129bb5e07fe85a31f33b1ce4b3852de45aa642a2a786b9134f61d7cd8d73e34b49742ff9e2d161b6a0272a5ba2a5e886295e57956ac3e886555aeab7c35cf8bc51fe4d5faf80f9bb2ca979528e6a5106433f5e7a99fb22a44b5cce7e2d2a6bea16ebd9fb377b728c6527b3a9d5a8f248edc502afabcf04987d34970ca35b6b2285730582fcaf54694e27bffa9234086da478a89d31ee8488edc0f49f98e0e6fe7910f4141c6111ed25ab66038fa2eb2a8b563d2356c321a6779f511d9631d9bad967b4a17768fae92be4d18fde25934d6e0a034dbdac134cc3be603bbd1d61f586a359b8ef87e76f6d76897e2330ec7757292bcb7ac93611f9971a3332523908f7acfce7a695cfa96b35f6991396d900872b2c0a50eba610ece0152e52d2039d2c0f99106cd10d31dbfbf46438341ed973d3cc08b71975d2406b20f3fbf67629eaf57acebd8df7fe15b88357dbfde94ecd50fcc4476da3916604d6712f35b9815272bd5125568ea46a336e601926aea1ffcb2576f5918acaed86e90007cc3a452ba1ff9359e5ad07f9e583f6314904554f49659eff72c6732a2775b54bbb9422ec87d8c5f77288d1298f164c234ca3718a1a0fa626abd9af1a1d6b73de0a19bc910e5113391a6dc015b62be2967bcaf698246200774a695a1f3ce282012409a988a79a2884943a31f9c216adfcaa8eb46ef3891aba0c39d36145fd920964f76e40584e41a9284aeb8148c32e9eec2776b766d1d7b9f1efd4fc9a39e31e46255ce9118a8d1a0fdc8779d23ec4e0e54dcc460e31aa364f22123de4273bd1d48931e0251c510b2f310292a69cd4d90a355331007a1485799586522e7f7c0d756aa31c023499f075891bf74801568cb97082bd0b9ff1861c0f005c28a7f0798d1fcff8018a2aa4d751724ae1431472bf5adb22012861f712137905f2f1344063f1dc878929d936a06e9f61594594347272433251d448ff501b6b809f83581121cc63a09fb5eebfeac75c4e2e95ea9d873770744b3622f5016898c4f137f117483ee39dcc3f52830c7a7efaec557de5dcbf1dd45cfaef1b61b15697c23d10b22fa6d3ac84052f5f0bca48b6d7e7a439ed4b13ebf591ab92dcb6db1fade7f7eff195a3f599d');
INSERT INTO public.fleet_revisions (site, bay, inspection, revision, sha256, month, stored) VALUES ('greywacke', 'bay-2', 'truck-14', 1, 'b83ecb0040ad8d08e13dccee7f2e064c4d4e4fdbb91f5556428f019bfa4d79d3', '2026-11-01', '2026-11-26 21:13:49.946088+00');
INSERT INTO public.fleet_revisions (site, bay, inspection, revision, sha256, month, stored) VALUES ('greywacke', 'bay-2', 'truck-14', 2, '5aaa386e8e22d019bee8f419df985d70ebe4a9fb51d5a672fb11b2d26a96e676', '2026-11-01', '2026-11-26 21:13:49.946088+00');
INSERT INTO public.fleet_revisions (site, bay, inspection, revision, sha256, month, stored) VALUES ('greywacke', 'bay-2', 'truck-15', 1, 'fc5b135748493b36b0cdec884ac1e45f84ed0d893c587d0c6409c3a9c591205c', '2026-11-01', '2026-11-26 21:13:49.946088+00');
INSERT INTO public.fleet_revisions (site, bay, inspection, revision, sha256, month, stored) VALUES ('greywacke', 'bay-2', 'truck-16', 1, '2f4b05517813492330e39af22ab5a396d2a2e1b7210baf20a51410e9419096a3', '2026-11-01', '2026-11-26 21:13:50.033114+00');
INSERT INTO public.fleet_revisions (site, bay, inspection, revision, sha256, month, stored) VALUES ('greywacke', 'bay-2', 'truck-18', 1, '6cf843d90c88ed4e6bcf63feed68ccc4c58ac265203bfb3a1e48f56ff34c014c', '2026-11-01', '2026-11-26 21:13:50.081303+00');
INSERT INTO public.fleet_revisions (site, bay, inspection, revision, sha256, month, stored) VALUES ('greywacke', 'bay-3', 'truck-20', 1, '0c539d8944114209dddfaee507f4fcb0b9c3ace159439f73ae0d320f16650bba', '2026-11-01', '2026-11-26 21:13:50.165163+00');
INSERT INTO public.fleet_walked (site, bay, chain, size, root, subtrees, last) VALUES ('greywacke', 'bay-2', '7e7574ef7ccbf018', 1, '1439ba4f5ff43708ac6d026bc9e7ac43831b67fb3ccc306e6e82402dff81df0a', '\x1439ba4f5ff43708ac6d026bc9e7ac43831b67fb3ccc306e6e82402dff81df0a', '16082200dec6189698c2f6bbb5a72d3fc274f82c912e35daf5ee29d676f13813');
INSERT INTO public.fleet_walked (site, bay, chain, size, root, subtrees, last) VALUES ('greywacke', 'bay-2', '7e7574ef7ccbf018', 2, '53436da514364cc4a89c934ccdf99aae2997285049c7e833ae23c2cf315ec677', '\x53436da514364cc4a89c934ccdf99aae2997285049c7e833ae23c2cf315ec677', '5670c34487d6eaf1284fac92b2e809ccfcdfcfba0aa774d5d70985fde09ac320');
INSERT INTO public.fleet_walked (site, bay, chain, size, root, subtrees, last) VALUES ('greywacke', 'bay-2', '7e7574ef7ccbf018', 3, '8cf872963d3ae05b6bc4f598488e572bda98e0a106a17cce69e69b725733fe2f', '\x53436da514364cc4a89c934ccdf99aae2997285049c7e833ae23c2cf315ec67717e4eed6897a4aaef47faf2b80c2ec4b27b4809c178368781df53fbd297aaaf2', '19297eccb575f652ab7d9a9529c94b997bc14a621f1328ac3134bfac7927f572');
INSERT INTO public.fleet_walked (site, bay, chain, size, root, subtrees, last) VALUES ('greywacke', 'bay-2', '7e7574ef7ccbf018', 4, '1ab9d272135f15437ddc050130cf0ac0f5cebe8fe730aabab322da968694e1c3', '\x1ab9d272135f15437ddc050130cf0ac0f5cebe8fe730aabab322da968694e1c3', '94bca03bbe75842f974feeb1b1b98aa4ea57329e8cfa424b880b43d12e845a46');
INSERT INTO public.fleet_walked (site, bay, chain, size, root, subtrees, last) VALUES ('greywacke', 'bay-3', '375c99ac0e49fbb3', 1, '03c123dc33845a08b579ecf31c2b575ca33744d04ef8e7d2a69e27c4735dcae9', '\x03c123dc33845a08b579ecf31c2b575ca33744d04ef8e7d2a69e27c4735dcae9', 'aa82477bba5b17cd163f9185d8395137d9c97d8988865077c2732c7c21dacdc2');
INSERT INTO public.fleet_walked (site, bay, chain, size, root, subtrees, last) VALUES ('greywacke', 'bay-3', '375c99ac0e49fbb3', 2, '525b79d77ab8912123e90d11d4307b3cc412216316334e08cce8e09e559848bd', '\x525b79d77ab8912123e90d11d4307b3cc412216316334e08cce8e09e559848bd', '96086c3ed91bc026190f6b3e8df6a8a6ce9d47938c3f15e06df75e8fc5d3b35e');
INSERT INTO public.ringtrue_fleet_version (version_num) VALUES ('0002');
ALTER TABLE ONLY public.fleet_asked
    ADD CONSTRAINT fleet_asked_pkey PRIMARY KEY (site, bay, asked);
ALTER TABLE ONLY public.fleet_bay_keys
    ADD CONSTRAINT fleet_bay_keys_pkey PRIMARY KEY (site, bay, key);
ALTER TABLE ONLY public.fleet_breaks
    ADD CONSTRAINT fleet_breaks_pkey PRIMARY KEY (site, bay, chain, place, what);
ALTER TABLE ONLY public.fleet_chain
    ADD CONSTRAINT fleet_chain_pkey PRIMARY KEY (site, bay, chain, place);
ALTER TABLE ONLY public.fleet_checkpoints
    ADD CONSTRAINT fleet_checkpoints_pkey PRIMARY KEY (site, bay, chain, size, root);
ALTER TABLE ONLY public.fleet_checks
    ADD CONSTRAINT fleet_checks_pkey PRIMARY KEY (site, bay, inspection, revision, check_name, month);
ALTER TABLE ONLY public.fleet_checks_2026_11
    ADD CONSTRAINT fleet_checks_2026_11_pkey PRIMARY KEY (site, bay, inspection, revision, check_name, month);
ALTER TABLE ONLY public.fleet_checks_2026_12
    ADD CONSTRAINT fleet_checks_2026_12_pkey PRIMARY KEY (site, bay, inspection, revision, check_name, month);
ALTER TABLE ONLY public.fleet_checks_2027_01
    ADD CONSTRAINT fleet_checks_2027_01_pkey PRIMARY KEY (site, bay, inspection, revision, check_name, month);
ALTER TABLE ONLY public.fleet_refused_gone
    ADD CONSTRAINT fleet_refused_gone_pkey PRIMARY KEY (reason);
ALTER TABLE ONLY public.fleet_refused
    ADD CONSTRAINT fleet_refused_pkey PRIMARY KEY (sha256, topic, reason);
ALTER TABLE ONLY public.fleet_results
    ADD CONSTRAINT fleet_results_pkey PRIMARY KEY (site, bay, inspection, revision, month);
ALTER TABLE ONLY public.fleet_results_2026_11
    ADD CONSTRAINT fleet_results_2026_11_pkey PRIMARY KEY (site, bay, inspection, revision, month);
ALTER TABLE ONLY public.fleet_results_2026_12
    ADD CONSTRAINT fleet_results_2026_12_pkey PRIMARY KEY (site, bay, inspection, revision, month);
ALTER TABLE ONLY public.fleet_results_2027_01
    ADD CONSTRAINT fleet_results_2027_01_pkey PRIMARY KEY (site, bay, inspection, revision, month);
ALTER TABLE ONLY public.fleet_revisions
    ADD CONSTRAINT fleet_revisions_pkey PRIMARY KEY (site, bay, inspection, revision);
ALTER TABLE ONLY public.fleet_taken_up
    ADD CONSTRAINT fleet_taken_up_pkey PRIMARY KEY (sha256, topic);
ALTER TABLE ONLY public.fleet_walked
    ADD CONSTRAINT fleet_walked_pkey PRIMARY KEY (site, bay, chain, size);
ALTER TABLE ONLY public.ringtrue_fleet_version
    ADD CONSTRAINT ringtrue_fleet_version_pkc PRIMARY KEY (version_num);
CREATE INDEX ix_fleet_checks_damper ON ONLY public.fleet_checks USING btree (damper, opened);
CREATE INDEX fleet_checks_2026_11_damper_opened_idx ON public.fleet_checks_2026_11 USING btree (damper, opened);
CREATE INDEX fleet_checks_2026_12_damper_opened_idx ON public.fleet_checks_2026_12 USING btree (damper, opened);
CREATE INDEX fleet_checks_2027_01_damper_opened_idx ON public.fleet_checks_2027_01 USING btree (damper, opened);
CREATE INDEX ix_fleet_results_damper ON ONLY public.fleet_results USING btree (damper, opened);
CREATE INDEX fleet_results_2026_11_damper_opened_idx ON public.fleet_results_2026_11 USING btree (damper, opened);
CREATE INDEX ix_fleet_results_engine ON ONLY public.fleet_results USING btree (engine, opened);
CREATE INDEX fleet_results_2026_11_engine_opened_idx ON public.fleet_results_2026_11 USING btree (engine, opened);
CREATE INDEX fleet_results_2026_12_damper_opened_idx ON public.fleet_results_2026_12 USING btree (damper, opened);
CREATE INDEX fleet_results_2026_12_engine_opened_idx ON public.fleet_results_2026_12 USING btree (engine, opened);
CREATE INDEX fleet_results_2027_01_damper_opened_idx ON public.fleet_results_2027_01 USING btree (damper, opened);
CREATE INDEX fleet_results_2027_01_engine_opened_idx ON public.fleet_results_2027_01 USING btree (engine, opened);
CREATE INDEX ix_fleet_chain_after ON public.fleet_chain USING btree (site, bay) WHERE (after_chain IS NOT NULL);
CREATE INDEX ix_fleet_chain_revision ON public.fleet_chain USING btree (site, bay, inspection, revision);
CREATE INDEX ix_fleet_chain_stored ON public.fleet_chain USING btree (stored);
CREATE INDEX ix_fleet_checkpoints_stored ON public.fleet_checkpoints USING btree (stored);
CREATE INDEX ix_fleet_refused_reason ON public.fleet_refused USING btree (reason, stored);
CREATE INDEX ix_fleet_revisions_stored ON public.fleet_revisions USING btree (stored);
ALTER INDEX public.ix_fleet_checks_damper ATTACH PARTITION public.fleet_checks_2026_11_damper_opened_idx;
ALTER INDEX public.fleet_checks_pkey ATTACH PARTITION public.fleet_checks_2026_11_pkey;
ALTER INDEX public.ix_fleet_checks_damper ATTACH PARTITION public.fleet_checks_2026_12_damper_opened_idx;
ALTER INDEX public.fleet_checks_pkey ATTACH PARTITION public.fleet_checks_2026_12_pkey;
ALTER INDEX public.ix_fleet_checks_damper ATTACH PARTITION public.fleet_checks_2027_01_damper_opened_idx;
ALTER INDEX public.fleet_checks_pkey ATTACH PARTITION public.fleet_checks_2027_01_pkey;
ALTER INDEX public.ix_fleet_results_damper ATTACH PARTITION public.fleet_results_2026_11_damper_opened_idx;
ALTER INDEX public.ix_fleet_results_engine ATTACH PARTITION public.fleet_results_2026_11_engine_opened_idx;
ALTER INDEX public.fleet_results_pkey ATTACH PARTITION public.fleet_results_2026_11_pkey;
ALTER INDEX public.ix_fleet_results_damper ATTACH PARTITION public.fleet_results_2026_12_damper_opened_idx;
ALTER INDEX public.ix_fleet_results_engine ATTACH PARTITION public.fleet_results_2026_12_engine_opened_idx;
ALTER INDEX public.fleet_results_pkey ATTACH PARTITION public.fleet_results_2026_12_pkey;
ALTER INDEX public.ix_fleet_results_damper ATTACH PARTITION public.fleet_results_2027_01_damper_opened_idx;
ALTER INDEX public.ix_fleet_results_engine ATTACH PARTITION public.fleet_results_2027_01_engine_opened_idx;
ALTER INDEX public.fleet_results_pkey ATTACH PARTITION public.fleet_results_2027_01_pkey;
